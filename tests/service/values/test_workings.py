"""Coefficient files, and the small shared rules of season."""

import pytest

from service.errors import BadFile, BadRequest
from service.values.plants import Plant, Provenance
from service.values.seasons import days_before
from service.values.vocabulary import PlantId
from service.values.workings import NO_SOURCE, coefficients_of, known_range

GOOD = '[draft]\nname = "skirt"\nvalue = 0.15\nlow = 0.1\nhigh = 0.3\nunit = "m"\nhow_known = "common-practice"\n'


def test_a_coefficient_carries_range_and_standing() -> None:
    draft = coefficients_of("invented.toml", GOOD)["draft"]
    assert (draft.low, draft.value, draft.high) == (0.1, 0.15, 0.3)
    assert draft.source == NO_SOURCE
    assert draft.given().quantity_text() == "0.15 m (0.49 ft)"


def test_a_coefficient_from_memory_says_so() -> None:
    text = GOOD.replace('"common-practice"', '"memory"') + 'source = "Invented Handbook"\n'
    assert (
        coefficients_of("invented.toml", text)["draft"].source == "Invented Handbook (from memory)"
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GOOD.replace("0.15", "0.5"), "lies outside"),
        (GOOD.replace('"m"', '"furlong"'), "draft.unit"),
        (GOOD + 'source = "somewhere"\n', "except one of common practice"),
        (GOOD.replace("common-practice", "published"), "source goes with every coefficient"),
        (GOOD + "colour = 1\n", "draft.colour"),
        ("[draft\n", "invented.toml"),
    ],
)
def test_a_file_that_cannot_be_used_names_the_place(text: str, words: str) -> None:
    with pytest.raises(BadFile, match=r"invented\.toml") as caught:
        coefficients_of("invented.toml", text)
    assert words in str(caught.value)


def test_a_range_is_known_as_its_weaker_end_is() -> None:
    read = Provenance("read", "Invented Flora")
    one = Plant(PlantId("x"), "X", "species", "X", provenance={"depth_cm_max": read})
    both = Plant(
        PlantId("x"), "X", "species", "X", provenance={"depth_cm_min": read, "depth_cm_max": read}
    )
    assert known_range(one, "depth_cm").how_known == "common-practice"
    assert known_range(both, "depth_cm") == read


def test_days_are_counted_back_over_the_new_year() -> None:
    assert days_before("10-15", 14) == "10-01"
    assert days_before("01-05", 7) == "12-29"


@pytest.mark.parametrize("text", ["13-01", "10/15", "", "02-29"])
def test_a_day_that_is_not_in_the_year_is_turned_away(text: str) -> None:
    with pytest.raises(BadRequest, match="MM-DD"):
        days_before(text, 14)
