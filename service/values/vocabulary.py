"""The closed vocabularies that every part shares, and the ids that walk between the parts."""

from typing import Literal, NewType, get_args

PlantId = NewType("PlantId", str)
"""Slug of the accepted name: ``pontederia-crassipes``, ``typha-x-glauca``."""
ListId = NewType("ListId", str)
WaterId = NewType("WaterId", str)
Jurisdiction = NewType("Jurisdiction", str)
"""ISO 3166-2 code of a state (``US-OH``), or ``US`` for federal law."""
CountyFips = NewType("CountyFips", str)
"""Five digits, leading zeros kept: ``39035``."""
BuildId = NewType("BuildId", str)

Act = Literal[
    "import",
    "export",
    "sell",
    "buy",
    "give",
    "transport",
    "possess",
    "propagate",
    "plant",
    "release",
]
ACTS: tuple[Act, ...] = get_args(Act)

Outcome = Literal[
    "prohibited",
    "permit-required",
    "conditional",
    "undetermined",
    "listed-other-acts",
    "no-entry-found",
]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
"""Strictest first."""

Coverage = Literal["complete", "partial", "none"]

HowKnown = Literal[
    "read", "partly-read", "memory", "common-practice", "published", "user", "measured"
]

Match = Literal["accepted", "synonym", "common", "trade", "cultivar", "spelling", "genus", "none"]

Rank = Literal[
    "family",
    "genus",
    "species",
    "subspecies",
    "variety",
    "form",
    "hybrid",
    "cultivar group",
    "strain",
]

GrowthForm = Literal["submerged", "free-floating", "floating-leaved", "emergent", "wet-soil"]
Flow = Literal["still", "slow", "moving"]
Light = Literal["sun", "part-shade", "shade"]
SpreadMode = Literal[
    "seed",
    "spore",
    "fragment",
    "offset",
    "runner",
    "stolon",
    "rhizome",
    "tuber",
    "turion",
    "bulbil",
]
SpreadRate = Literal["slow", "moderate", "fast", "aggressive"]
FrostKill = Literal["yes", "top-only", "no", "unknown"]
Nativeness = Literal["yes", "part", "no"]
WaterKind = Literal["lake", "pond", "wetland", "stream", "river", "canal"]

FEDERAL = Jurisdiction("US")

JURISDICTION_NAMES: dict[Jurisdiction, str] = {
    Jurisdiction(code): name
    for code, name in {
        "US": "United States (federal)",
        "US-AL": "Alabama",
        "US-AK": "Alaska",
        "US-AZ": "Arizona",
        "US-AR": "Arkansas",
        "US-CA": "California",
        "US-CO": "Colorado",
        "US-CT": "Connecticut",
        "US-DE": "Delaware",
        "US-DC": "District of Columbia",
        "US-FL": "Florida",
        "US-GA": "Georgia",
        "US-HI": "Hawaii",
        "US-ID": "Idaho",
        "US-IL": "Illinois",
        "US-IN": "Indiana",
        "US-IA": "Iowa",
        "US-KS": "Kansas",
        "US-KY": "Kentucky",
        "US-LA": "Louisiana",
        "US-ME": "Maine",
        "US-MD": "Maryland",
        "US-MA": "Massachusetts",
        "US-MI": "Michigan",
        "US-MN": "Minnesota",
        "US-MS": "Mississippi",
        "US-MO": "Missouri",
        "US-MT": "Montana",
        "US-NE": "Nebraska",
        "US-NV": "Nevada",
        "US-NH": "New Hampshire",
        "US-NJ": "New Jersey",
        "US-NM": "New Mexico",
        "US-NY": "New York",
        "US-NC": "North Carolina",
        "US-ND": "North Dakota",
        "US-OH": "Ohio",
        "US-OK": "Oklahoma",
        "US-OR": "Oregon",
        "US-PA": "Pennsylvania",
        "US-RI": "Rhode Island",
        "US-SC": "South Carolina",
        "US-SD": "South Dakota",
        "US-TN": "Tennessee",
        "US-TX": "Texas",
        "US-UT": "Utah",
        "US-VT": "Vermont",
        "US-VA": "Virginia",
        "US-WA": "Washington",
        "US-WV": "West Virginia",
        "US-WI": "Wisconsin",
        "US-WY": "Wyoming",
    }.items()
}
"""ISO 3166-2:US codes of the states and the District of Columbia, with federal law as ``US``."""

STATES: tuple[Jurisdiction, ...] = tuple(code for code in JURISDICTION_NAMES if code != FEDERAL)


def strictest(outcomes: list[Outcome]) -> Outcome:
    """The strictest of one or more outcomes."""
    return min(outcomes, key=OUTCOMES.index)


MeasureKind = Literal[
    "no-drain-tub",
    "solid-pot",
    "root-barrier",
    "foam-island",
    "floating-ring",
    "outlet-screen",
    "freeboard",
    "harvest",
    "autumn-removal",
]
"""Measures that keep a plant in: what a plan may ask for, and what containment sizes."""
