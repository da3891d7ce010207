"""Notes beside the stored names."""

import pytest

from data_loaders.plants.from_tables import read_note


@pytest.mark.parametrize(
    ("note", "mentions"),
    [
        ("ask for species", ()),
        (
            "shared name; also Centella asiatica, Hydrocotyle umbellata",
            ("Centella asiatica", "Hydrocotyle umbellata"),
        ),
        (
            "also used for Sagittaria lancifolia and S. platyphylla",
            ("Sagittaria lancifolia", "Sagittaria platyphylla"),
        ),
        ("any Lemna, Spirodela or Landoltia", ("Lemna", "Spirodela", "Landoltia")),
        ("usually Pontederia cordata in US trade", ("Pontederia cordata",)),
        ("loosely used in the aquarium trade", ()),
        ("misapplied to native plants", ()),
        ("often kept separate", ()),
        ("properly a hybrid, Mentha × piperita", ("Mentha piperita",)),
    ],
)
def test_notes_that_cast_doubt(note: str, mentions: tuple[str, ...]) -> None:
    reading = read_note(note)
    assert reading.doubtful
    assert set(mentions) <= set(reading.mentions)


@pytest.mark.parametrize(
    "note",
    [
        "",
        "selection of Nymphaea odorata",
        "common variant spelling",
        "recent transfer",
        "dated name",
        "trade name",
    ],
)
def test_notes_that_do_not(note: str) -> None:
    reading = read_note(note)
    assert not reading.doubtful
    assert reading.mentions == ()


def test_a_genus_name_alone_is_noticed() -> None:
    assert read_note("genus name alone on labels").genus_alone
