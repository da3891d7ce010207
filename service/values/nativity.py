"""Whether a plant is native to a state: from state records where a survey met it, else by the
region that the catalogue gives.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from service.values.vocabulary import HowKnown, Jurisdiction, Nativeness

_STATES_OF_REGION = {
    "northeast": "CT DC DE MA MD ME NH NJ NY PA RI VT WV",
    "southeast": "AL AR FL GA KY LA MS NC SC TN VA",
    "midwest": "IA IL IN MI MN MO OH WI",
    "great-plains": "KS ND NE OK SD",
    "southwest": "AZ NM TX",
    "mountain": "CO ID MT NV UT WY",
    "pacific-northwest": "OR WA",
    "california": "CA",
    "alaska": "AK",
    "hawaii": "HI",
}

REGION_OF_STATE: dict[Jurisdiction, str] = {
    Jurisdiction(f"US-{state}"): region
    for region, states in _STATES_OF_REGION.items()
    for state in states.split()
}


def region_of(state: Jurisdiction) -> str | None:
    """Region in which the state lies; None for a territory and for the country.

    >>> region_of(Jurisdiction("US-OH"))
    'midwest'
    """
    return REGION_OF_STATE.get(state)


NativityStatus = Literal["native", "introduced", "unknown"]
StateStatus = Literal["native", "both", "introduced"]
"""What a survey says of a plant in a state; ``both``: native and introduced plants of it grow
there, and nobody can say which one is meant.
"""


@dataclass(frozen=True, slots=True)
class StateRecord:
    """What a survey or flora says of a plant in one state, and where that is from."""

    status: StateStatus
    source: str
    how_known: HowKnown = "read"


@dataclass(frozen=True, slots=True)
class Nativity:
    """Whether a plant is native to a state.

    Attributes:
        status: a plant that is native elsewhere in the country is ``introduced`` here.
        scope: what the status rests on: a record of the state itself, or the region it is in.
        source: the table, or the catalogue's native regions.
        how_known: that of the record, where one of the state is held.
    """

    status: NativityStatus
    scope: Literal["state", "region"]
    source: str
    how_known: HowKnown = "common-practice"


_TEXAS = Jurisdiction("US-TX")


def nativity(
    state: Jurisdiction,
    records: Mapping[Jurisdiction, StateRecord],
    native_regions: tuple[str, ...],
    north_america: Nativeness | None,
) -> Nativity:
    """Whether a plant is native to a state.

    A state without a record is one where the survey did not meet the plant: that says nothing, so
    the region answers. A region counts as native where the catalogue names it or where a state of
    it has a native record; one of Texas says nothing of the desert states that it is grouped with,
    for its east has the flora of the southeast.

    Args:
        records: by state, what a survey says.
        native_regions: as the catalogue gives them; empty is not stated.
        north_america: native to the continent, in part, or not.

    >>> record = StateRecord("native", "an invented table")
    >>> ohio, oregon = Jurisdiction("US-OH"), Jurisdiction("US-OR")
    >>> nativity(ohio, {ohio: record}, ("midwest",), "yes").status
    'native'
    >>> nativity(oregon, {ohio: record}, ("midwest",), "yes").status
    'introduced'
    """
    record = records.get(state)
    if record is not None:
        status: NativityStatus = "unknown" if record.status == "both" else record.status
        return Nativity(status, "state", record.source, record.how_known)
    region = region_of(state)
    if region is None or north_america is None:
        return Nativity("unknown", "region", "The catalogue does not say where it is native.")
    if north_america == "no":
        return Nativity("introduced", "region", "Plant catalogue: not native to North America")
    regions = _regions(records, native_regions)
    if not regions:
        return Nativity("unknown", "region", "The catalogue does not say where it is native.")
    named = f"Plant catalogue, native regions: {', '.join(sorted(regions))}"
    if region not in regions:
        return Nativity("introduced", "region", named)
    if north_america == "part":
        return Nativity("unknown", "region", f"{named}; its nativity there is disputed or partial")
    return Nativity("native", "region", named)


def native_states(
    records: Mapping[Jurisdiction, StateRecord],
    native_regions: tuple[str, ...],
    north_america: Nativeness | None,
) -> frozenset[Jurisdiction]:
    """The states that ``nativity`` calls native, worked out for all of them at once."""
    by_record = {state for state, record in records.items() if record.status == "native"}
    if north_america != "yes":
        return frozenset(by_record)
    regions = _regions(records, native_regions)
    by_region = {state for state, region in REGION_OF_STATE.items() if region in regions}
    return frozenset(by_record | (by_region - records.keys()))


def _regions(
    records: Mapping[Jurisdiction, StateRecord], native_regions: tuple[str, ...]
) -> set[str]:
    return set(native_regions) | {
        REGION_OF_STATE[state]
        for state, record in records.items()
        if record.status == "native" and state in REGION_OF_STATE and state != _TEXAS
    }
