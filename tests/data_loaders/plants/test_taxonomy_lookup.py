"""Labels resolved against the catalogue with an imported taxonomy beside it."""

from pathlib import Path
from threading import Thread

import pytest

from data_loaders.plants.taxonomy import load_taxonomy
from data_loaders.reference_store import load_reference
from service.names import Resolution, Resolver
from service.store.catalogue import read_names, read_plants
from service.store.database import Build
from service.store.names import StoredTaxonomies, read_taxonomies
from tests.data_loaders.plants.taxonomy_samples import wfo_csv


@pytest.fixture(scope="module")
def build(tmp_path_factory: pytest.TempPathFactory) -> Build:
    folder = tmp_path_factory.mktemp("taxonomy")
    load_reference(folder / "store.db")
    load_taxonomy(
        folder / "store.db", wfo_csv(folder / "c.csv"), title="Invented backbone", version="2026-01"
    )
    return Build(folder / "store.db")


@pytest.fixture(scope="module")
def resolver(build: Build) -> Resolver:
    return Resolver(
        read_plants(build.connection).values(),
        list(read_names(build.connection)),
        read_taxonomies(build),
    )


def only(resolution: Resolution) -> tuple[str, str, str]:
    assert len(resolution.candidates) == 1, resolution.candidates
    candidate = resolution.candidates[0]
    return candidate.plant_id, candidate.accepted_name, candidate.source


def test_a_store_without_taxonomies_has_none(tmp_path: Path) -> None:
    load_reference(tmp_path / "store.db")
    assert read_taxonomies(Build(tmp_path / "store.db")) == ()


def test_a_name_that_only_the_taxonomy_knows_is_confirmed_with_its_source(
    resolver: Resolver,
) -> None:
    resolution = resolver.resolve("Foobaria limosa 4in")
    assert (resolution.match, resolution.confirmed) == ("accepted", True)
    assert only(resolution) == (
        "taxonomy:invented-backbone:wfo-0000000002",
        "Foobaria limosa",
        "Invented backbone 2026-01",
    )
    assert (resolution.candidates[0].genus, resolution.candidates[0].rank) == (
        "Foobaria",
        "species",
    )


@pytest.mark.parametrize(
    "label",
    [
        "Foobaria palustris",
        "FOOBARIA PALUSTRIS",
        "Foobaria Palustris",
        "foobaria palustris (Inv.) Nemo",
    ],
)
def test_a_synonym_there_leads_to_the_accepted_name(resolver: Resolver, label: str) -> None:
    resolution = resolver.resolve(label)
    assert (resolution.match, resolution.confirmed) == ("synonym", True)
    assert only(resolution)[1] == "Foobaria limosa"
    assert resolution.candidates[0].through == "Foobaria palustris"


def test_a_taxon_there_that_the_catalogue_knows_by_any_name_is_the_catalogues(
    resolver: Resolver,
) -> None:
    """Foobaria aquatica (invented) is there a synonym of Eichhornia crassipes, which here is
    Pontederia crassipes.
    """
    resolution = resolver.resolve("Foobaria aquatica")
    assert only(resolution) == (
        "pontederia-crassipes",
        "Pontederia crassipes",
        "Invented backbone 2026-01",
    )


def test_homonyms_come_back_as_several_unless_the_author_tells_them_apart(
    resolver: Resolver,
) -> None:
    """ICN Art. 53.1."""
    several = resolver.resolve("Foobaria homonyma")
    assert {candidate.accepted_name for candidate in several.candidates} == {
        "Foobaria homonyma",
        "Foobaria limosa",
    }
    assert not several.confirmed
    assert only(resolver.resolve("Foobaria homonyma Nullus"))[1] == "Foobaria limosa"


def test_a_name_that_the_taxonomy_does_not_place_is_not_confirmed(resolver: Resolver) -> None:
    resolution = resolver.resolve("Foobaria dubia")
    assert not resolution.confirmed
    assert "does not place" in resolution.to_confirm


@pytest.mark.parametrize(
    ("label", "through"),
    [
        ("Foobaria limmosa", "Foobaria limosa"),
        ("Fobaria limosa", "Foobaria limosa"),
        ("Foobarea limosa", "Foobaria limosa"),
        ("Foobaria limosum", "Foobaria limosa"),
        ("Foobaria palustrs", "Foobaria palustris"),
        ("Foobaria limosa subsp. minr", "Foobaria limosa subsp. minor"),
    ],
)
def test_spellings_are_found_there_too_and_never_confirmed(
    resolver: Resolver, label: str, through: str
) -> None:
    resolution = resolver.resolve(label)
    assert (resolution.match, resolution.confirmed) == ("spelling", False)
    assert through in {candidate.through for candidate in resolution.candidates}


@pytest.mark.parametrize("label", ["Foobaria", "Foobaria sp.", "foobaria", "Foobaria 'Nana'"])
def test_a_genus_that_only_the_taxonomy_knows_asks_for_the_species(
    resolver: Resolver, label: str
) -> None:
    resolution = resolver.resolve(label)
    assert (resolution.match, resolution.genus_only, resolution.confirmed) == ("genus", True, False)
    assert resolution.candidates[0].rank == "genus"


def test_a_cultivar_inherits_the_imported_species(resolver: Resolver) -> None:
    resolution = resolver.resolve("Foobaria limosa 'Nana'")
    assert (resolution.match, resolution.confirmed, resolution.cultivar_known) == (
        "cultivar",
        True,
        False,
    )


def test_the_catalogue_stands_and_says_what_the_taxonomy_holds_otherwise(
    resolver: Resolver,
) -> None:
    resolution = resolver.resolve("Pontederia crassipes")
    assert (resolution.match, resolution.confirmed) == ("accepted", True)
    assert only(resolution)[2] == ""
    assert (
        "Invented backbone 2026-01 names the taxon Eichhornia crassipes"
        in resolution.candidates[0].note
    )


def test_spelling_candidates_of_the_catalogue_come_before_those_of_the_taxonomy(
    resolver: Resolver,
) -> None:
    resolution = resolver.resolve("Sagittaria subulta")
    assert resolution.candidates[0].accepted_name == "Sagittaria subulata"


def test_every_imported_name_is_found_by_its_own_form(build: Build) -> None:
    taxonomies = StoredTaxonomies(build)
    for form, name in build.connection.execute(
        "SELECT normal_form, name FROM taxonomy_name"
    ).fetchall():
        assert name in {found.name for found in taxonomies.exact(form)}


def test_several_threads_look_up_at_once(build: Build) -> None:
    taxonomies = StoredTaxonomies(build)
    found: list[int] = []

    def look_up() -> None:
        found.extend(len(taxonomies.near("foobaria", ("limossa",))) for _ in range(50))

    threads = [Thread(target=look_up) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 200
    assert set(found) == {len(taxonomies.near("foobaria", ("limossa",)))}
