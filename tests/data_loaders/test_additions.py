"""Rebuilding the reference part of a store keeps what an operator added to it.

The waters, list and records are invented.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import shapely

from data_loaders.additions import additions
from data_loaders.build import drafting
from data_loaders.geography.boundaries import load_boundaries
from data_loaders.geography.waters import load_waters
from data_loaders.geography.watersheds import load_watersheds
from data_loaders.geography.zones import load_zones
from data_loaders.occurrences import load_occurrences
from data_loaders.plants.taxonomy import load_taxonomy
from data_loaders.reference_store import load_demo, load_reference
from data_loaders.regulations.own_lists import load_own_list
from demo_data import geography as demo
from service.errors import StoreError
from service.store.database import Build
from tests.data_loaders.geography.vector_files import write_layer
from tests.data_loaders.plants.taxonomy_samples import wfo_csv

KEPT = (
    *("water", "water_state", "water_part", "flowline", "flow_link", "flowline_state"),
    *("watershed", "watershed_area", "zone_of_zip", "zone_area", "county", "boundary"),
    *("occurrence_dataset", "occurrence_plant", "occurrence_terms", "occurrence_block"),
    *("taxonomy", "taxonomy_name", "taxonomy_genus_key", "taxonomy_difference"),
    *("law_list", "law_class", "native_status"),
)


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A reference store with one addition of every kind."""
    folder = tmp_path_factory.mktemp("full")
    store = folder / "store.db"
    load_reference(store)
    load_waters(store, [demo.WATERS])
    load_watersheds(store, [demo.WATERSHEDS])
    load_zones(store, [demo.ZONES_BY_ZIP, demo.ZONE_AREAS])
    load_occurrences(store, [demo.OCCURRENCE_ARCHIVE, demo.OCCURRENCE_TABLE])
    load_taxonomy(store, wfo_csv(folder / "c.csv"), title="Invented", version="1")
    county = folder / "county.gpkg"
    write_layer(
        county, "c", [shapely.box(-84.5, 41.4, -84, 41.8)], {"GEOID": ["39171"], "NAME": ["W"]}
    )
    load_boundaries(store, [county])
    listed = folder / "no_plant.csv"
    listed.write_text("Botanical name\nTrapa natans\nPistia stratiotes\n")
    load_own_list(
        store, listed, jurisdiction="US", title="Never here", kind="own-rule", acts=("plant",)
    )
    return store


@pytest.fixture
def store(full: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "store.db"
    copy.write_bytes(full.read_bytes())
    return copy


def counts(store: Path) -> dict[str, int]:
    with closing(sqlite3.connect(store)) as connection:
        return {
            table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in KEPT
        }


def rows(store: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(store)) as connection:
        return [tuple(row) for row in connection.execute(query)]


def test_every_kind_of_addition_is_kept_row_by_row(store: Path) -> None:
    before, added = counts(store), additions(store)
    assert {addition.kind for addition in added} == {
        *("waters", "watersheds", "zones", "occurrences", "taxonomy", "boundaries", "own-rule")
    }
    assert load_reference(store) == added
    assert counts(store) == before
    assert additions(store) == added
    entries = rows(
        store,
        "SELECT law_entry.accepted_name, plant.accepted_name FROM law_entry"
        " JOIN plant USING (plant_id) WHERE list_id = 'us-own-never-here' ORDER BY 1",
    )
    assert entries == [("Pistia stratiotes",) * 2, ("Trapa natans",) * 2]


def test_rebuilding_twice_gives_the_same_build(store: Path) -> None:
    load_reference(store)
    with closing(Build(store)) as once:
        build_id = once.build_id
    load_reference(store)
    with closing(Build(store)) as twice:
        assert twice.build_id == build_id


def test_an_addition_that_cannot_be_kept_stops_the_load_until_it_is_given_up(store: Path) -> None:
    with drafting(store, on_top=True) as draft:
        draft.connection.execute(
            "INSERT INTO plant (plant_id, accepted_name, rank, catalogued)"
            " VALUES ('gone-plant', 'Foobaria limosa', 'species', 1)"
        )
        draft.connection.execute("INSERT INTO occurrence_plant (plant_id) VALUES ('gone-plant')")
    before = store.read_bytes()
    with pytest.raises(StoreError, match="records of 1 plants") as refused:
        load_reference(store)
    assert "--drop-additions" in refused.value.next_step
    assert store.read_bytes() == before
    assert load_reference(store, drop_additions=True) == ()
    assert additions(store) == ()


def test_a_store_of_another_version_or_a_damaged_one_is_not_thrown_away(store: Path) -> None:
    damaged = bytearray(store.read_bytes())
    damaged[-5000] ^= 1
    store.write_bytes(damaged)
    with pytest.raises(StoreError, match="cannot be carried over") as refused:
        load_reference(store)
    assert "--drop-additions" in refused.value.next_step
    assert store.read_bytes() == damaged


def test_the_demonstration_does_not_replace_a_store_with_other_additions(store: Path) -> None:
    before = store.read_bytes()
    with pytest.raises(StoreError, match="Never here"):
        load_demo(store)
    assert store.read_bytes() == before
