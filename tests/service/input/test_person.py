"""A place, an act and a day as people write them."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import BadRequest, UnknownValue
from service.input.person import (
    read_acts,
    read_day,
    read_jurisdiction,
    read_jurisdictions,
    read_position,
    read_state,
)
from service.values.vocabulary import JURISDICTION_NAMES, STATES, Jurisdiction


@given(
    st.sampled_from(sorted(JURISDICTION_NAMES)), st.sampled_from([str.upper, str.lower, str.title])
)
def test_a_jurisdiction_is_read_by_code_letters_or_name(code: Jurisdiction, case: object) -> None:
    assert callable(case)
    for text in (code, code.removeprefix("US-"), JURISDICTION_NAMES[code]):
        assert read_jurisdiction(f"  {case(text)} ") == code


def test_all_is_every_state_and_repeats_count_once() -> None:
    assert read_jurisdictions(["all"]) == STATES
    assert read_jurisdictions(["Ohio, US-OH", "oh,New York"]) == ("US-OH", "US-NY")


@pytest.mark.parametrize("text", ["US-ZZ", "Ontario", "", "all"])
def test_what_is_not_one_jurisdiction_is_refused(text: str) -> None:
    with pytest.raises(UnknownValue):
        read_jurisdiction(text)


def test_federal_law_is_a_jurisdiction_and_not_a_state() -> None:
    assert read_jurisdiction("federal") == "US"
    with pytest.raises(UnknownValue, match="State"):
        read_state("US")


@given(st.floats(-180, 180, allow_nan=False), st.floats(-90, 90, allow_nan=False))
def test_a_position_comes_back_as_it_was_written(longitude: float, latitude: float) -> None:
    for separator in (",", ", ", ";"):
        assert read_position(f"{longitude}{separator}{latitude}") == (longitude, latitude)


@pytest.mark.parametrize(
    ("text", "words"),
    [("41.7,-84.8,3", "not a valid position"), ("41.7,-184", "not on the globe"), ("x", "valid")],
)
def test_a_position_that_is_none_says_what_to_write(text: str, words: str) -> None:
    with pytest.raises(BadRequest, match=words):
        read_position(text)


def test_latitude_first_is_said_to_look_swapped() -> None:
    with pytest.raises(BadRequest) as refused:
        read_position("41.7,-94.8")
    assert "swapped" in refused.value.next_step


@pytest.mark.parametrize("text", ["2026-13-01", "1 June 2026", "20260601", ""])
def test_a_day_is_written_in_one_way(text: str) -> None:
    assert read_day(" 2026-06-01 ") == date(2026, 6, 1)
    with pytest.raises(BadRequest):
        read_day(text)


def test_acts_are_read_in_any_case_each_once() -> None:
    assert read_acts(["Sell,IMPORT", "sell"]) == ("sell", "import")
    with pytest.raises(UnknownValue):
        read_acts(["hawk"])
