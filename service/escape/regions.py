"""The regions in which the plant catalogue states where a plant is native, and the states of
each.
"""

from collections.abc import Iterable

from service.values.vocabulary import Jurisdiction

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


def regions_of(states: Iterable[Jurisdiction]) -> set[str]:
    """Regions that the states lie in."""
    return {REGION_OF_STATE[state] for state in states if state in REGION_OF_STATE}
