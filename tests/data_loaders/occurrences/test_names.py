"""From the names of a record to a plant of the store."""

from contextlib import closing
from pathlib import Path

import pytest

from data_loaders.build import drafting
from data_loaders.occurrences import StoreNames
from service.names.normal import normal_form
from service.store.database import Build
from tests.data_loaders.occurrences.stores import make_store


def add_names(store: Path, *names: tuple[str, str, str, str]) -> None:
    with drafting(store, on_top=True) as draft:
        columns = ("name", "kind", "plant_id", "sense")
        draft.db.table("name").insert_all(
            dict(zip(columns, name, strict=True)) | {"source_id": "names"} for name in names
        )


def add_taxonomy(store: Path, *rows: tuple[int, str, str, int | None]) -> None:
    """Rows of an invented taxonomy: number, name, status, number of the accepted name."""
    with drafting(store, on_top=True) as draft:
        draft.db.table("source").insert(
            {"source_id": "taxa", "kind": "taxonomy", "title": "Taxa", "sha256": "1" * 64}
        )
        draft.db.table("taxonomy").insert({"taxonomy_no": 1, "source_id": "taxa"})
        draft.db.table("taxonomy_name").insert_all(
            {
                "name_no": number,
                "taxonomy_no": 1,
                "taxon_id": f"t{number}",
                "normal_form": normal_form(name),
                "name": name,
                "authorship": "",
                "rank": "species",
                "status": status,
                "accepted_no": accepted,
            }
            for number, name, status, accepted in rows
        )


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "store.db")


def match(store: Path, *names: str) -> list[str | None]:
    with closing(Build(store)) as build:
        matcher = StoreNames(build.connection)
        return [matcher(name) for name in names]


def test_accepted_names_and_synonyms_match_with_authorship_and_in_any_spelling_of_the_hybrid_sign(
    store: Path,
) -> None:
    assert match(
        store,
        "Nymphaea odorata",
        "Nymphaea odorata Aiton",
        "Eichhornia crassipes (Mart.) Solms, 1883",
        "Typha ×glauca Godr.",
        "Typha x glauca",
        "Phragmites australis subsp. australis",
        "Phragmites australis ssp. australis",
    ) == [
        "nymphaea-odorata",
        "nymphaea-odorata",
        "pontederia-crassipes",
        "typha-x-glauca",
        "typha-x-glauca",
        "phragmites-australis-subsp-australis",
        "phragmites-australis-subsp-australis",
    ]


def test_near_names_doubtful_names_and_common_names_do_not_match(store: Path) -> None:
    add_names(store, ("fragrant water lily", "common", "nymphaea-odorata", "strict"))
    names = [
        "Nymphaea odorta",
        "Nymphaea cf. odorata",
        "Nymphaea sp.",
        "fragrant water lily",
        "Nymphaea odorata 'Pink'",
        "",
    ]
    assert match(store, *names) == [None] * len(names)


def test_a_synonym_of_two_plants_or_a_misapplied_one_names_neither(store: Path) -> None:
    add_names(
        store,
        ("Typha major", "synonym", "typha-latifolia", "strict"),
        ("Typha major", "synonym", "typha-x-glauca", "strict"),
        ("Cabomba aquatica", "synonym", "cabomba-caroliniana", "misapplied"),
        ("Nymphaea odorata", "synonym", "typha-latifolia", "strict"),
    )
    assert match(store, "Typha major", "Cabomba aquatica", "Nymphaea odorata") == [
        None,
        None,
        "nymphaea-odorata",
    ]


def test_a_synonym_of_an_imported_taxonomy_names_the_plant_of_the_catalogue(store: Path) -> None:
    add_taxonomy(
        store,
        (1, "Castalia odorata", "synonym", 2),
        (2, "Nymphaea odorata", "accepted", 2),
        (3, "Piaropus crassipes", "synonym", 4),
        (4, "Oxydectes crassipes", "accepted", 4),
        (5, "Eichhornia crassipes", "synonym", 4),
        (6, "Quercus alba", "accepted", 6),
        (7, "Nymphaea dubia", "unplaced", None),
        (8, "Homonymia alba", "synonym", 2),
        (9, "Homonymia alba", "synonym", 6),
    )
    names = ["Castalia odorata (Aiton) Woodv.", "Piaropus crassipes", "Oxydectes crassipes"]
    assert match(store, *names) == [
        "nymphaea-odorata",
        "pontederia-crassipes",
        "pontederia-crassipes",
    ]
    assert match(store, "Quercus alba", "Nymphaea dubia", "Homonymia alba") == [None, None, None]


def test_other_names_give_another_fingerprint(store: Path) -> None:
    def fingerprint() -> str:
        with closing(Build(store)) as build:
            return StoreNames(build.connection).fingerprint

    first = fingerprint()
    assert first == fingerprint()
    add_names(store, ("Castalia odorata", "synonym", "nymphaea-odorata", "strict"))
    second = fingerprint()
    add_taxonomy(store, (1, "Quercus alba", "accepted", 1))
    assert len({first, second, fingerprint()}) == 3
