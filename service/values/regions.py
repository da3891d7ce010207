"""The regions in which the plant catalogue states where a plant is native, and the states of each.

The catalogue's own bounds: Texas, Arizona and New Mexico southwest; Kansas, Oklahoma, Nebraska and
the Dakotas great plains; Missouri, Minnesota and Iowa midwest; Virginia and Kentucky southeast;
West Virginia, Maryland and Delaware northeast; Nevada and Idaho mountain. The other states are
where the names put them (common practice, no source).
"""

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


def region_of(state: Jurisdiction) -> str | None:
    """Region in which the state lies; None for a territory and for the country.

    >>> region_of(Jurisdiction("US-OH"))
    'midwest'
    """
    return REGION_OF_STATE.get(state)
