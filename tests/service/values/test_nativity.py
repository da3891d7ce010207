"""Native to the state, to its region, or introduced there."""

import pytest

from service.store.library import Library
from service.values.nativity import (
    REGION_OF_STATE,
    NativityStatus,
    StateRecord,
    nativity,
    region_of,
)
from service.values.vocabulary import STATES, Jurisdiction, PlantId

OHIO, OREGON, TEXAS = Jurisdiction("US-OH"), Jurisdiction("US-OR"), Jurisdiction("US-TX")


@pytest.mark.parametrize(
    ("plant", "state", "status", "scope"),
    [
        # read in the survey tables of the US EPA (aquametNWCA, nativeNWCA_2016)
        ("nymphaea-odorata", "US-FL", "native", "state"),
        ("phragmites-australis", "US-WI", "unknown", "state"),  # CRYP: both kinds grow there
        ("phragmites-australis", "US-NC", "introduced", "state"),
        ("vallisneria-americana", "US-WA", "introduced", "state"),  # ADV: native further east
        # Native Plant Society of Texas; Flora of the Southeastern United States
        ("nymphaea-odorata", "US-TX", "native", "state"),
        ("pontederia-cordata", "US-TX", "native", "state"),
        # by the catalogue's regions; common practice, no source
        ("pontederia-crassipes", "US-FL", "introduced", "region"),
        ("pistia-stratiotes", "US-FL", "unknown", "region"),  # nativity disputed
        ("pistia-stratiotes", "US-OH", "introduced", "region"),
    ],
)
def test_a_state_record_goes_before_the_region(
    library: Library, plant: str, state: str, status: NativityStatus, scope: str
) -> None:
    found = library.plants[PlantId(plant)].nativity(Jurisdiction(state))
    assert (found.status, found.scope) == (status, scope)
    assert found.source
    assert (found.how_known == "read") is (scope == "state")


def test_native_elsewhere_in_the_country_is_introduced_here() -> None:
    assert nativity(OREGON, {}, ("southeast",), "yes").status == "introduced"


def test_a_state_that_the_survey_did_not_reach_is_answered_by_its_region() -> None:
    """A missing record says nothing: never that the plant is alien there."""
    found = nativity(OHIO, {OREGON: StateRecord("native", "x")}, ("midwest",), "yes")
    assert (found.status, found.scope) == ("native", "region")


def test_a_native_record_in_a_state_makes_its_region_native() -> None:
    """The catalogue's regions leave the midwest out, Ohio has a record."""
    record = {OHIO: StateRecord("native", "x")}
    assert nativity(Jurisdiction("US-MI"), record, ("southeast",), "yes").status == "native"


@pytest.mark.parametrize(
    ("state", "regions", "north_america"),
    [("US-PR", ("southeast",), "yes"), ("US-OH", (), "yes"), ("US-OH", (), None)],
)
def test_what_the_catalogue_does_not_say_is_unknown(
    state: str, regions: tuple[str, ...], north_america: None
) -> None:
    found = nativity(Jurisdiction(state), {}, regions, north_america)
    assert (found.status, found.scope) == ("unknown", "region")


def test_every_state_is_in_one_region() -> None:
    assert set(REGION_OF_STATE) == set(STATES)
    assert region_of(Jurisdiction("US")) is None
    assert {region_of(OHIO), region_of(OREGON)} == {"midwest", "pacific-northwest"}


def test_a_record_of_texas_says_nothing_of_the_desert_states_of_its_region() -> None:
    # Pontederia cordata: Flora of the Southeastern United States, west to eastern Texas
    record = {TEXAS: StateRecord("native", "an invented table")}
    regions = ("southeast", "northeast")
    assert nativity(TEXAS, record, regions, "yes").status == "native"
    assert nativity(Jurisdiction("US-AZ"), record, regions, "yes").status == "introduced"


def test_how_a_record_is_known_comes_with_the_answer() -> None:
    record = {TEXAS: StateRecord("native", "x", "memory")}
    assert nativity(TEXAS, record, ("southeast",), "yes").how_known == "memory"


def test_all_the_states_at_once_are_those_one_by_one(library: Library) -> None:
    for plant in library.plants.values():
        one_by_one = {state for state in STATES if plant.nativity(state).status == "native"}
        assert plant.native_states() == one_by_one, plant.accepted_name
