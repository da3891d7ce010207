"""How chances, distances and lists are written, and what every answer says."""

from collections.abc import Iterable

from service.values.site import EscapeRoute

_FOOT_M = 0.3048
_MILE_M = 1609.344

ROUTE_NAMES: dict[EscapeRoute, str] = {
    "outlet": "the outlet",
    "overflow": "storm overflow",
    "flood": "flood water",
    "bank": "the bank",
    "birds-and-visitors": "birds and visitors",
    "surplus": "surplus given away or tipped out",
}

STANDING_CAUTIONS: tuple[str, ...] = (
    "This is not legal advice. It says what was found in the lists loaded here and how each was "
    "read; before you sell, ship, keep or plant, "
    "confirm with the authority named beside the finding, and with county and city rules.",
    "Lists change through the year. A finding is as of the day and the store build named with it.",
    "A finding marked unverified rests on something not yet seen in the text, and no outcome "
    "means that a plant may be sold or planted.",
)
"""What every answer says, whatever it found."""


def percent(chance: float) -> str:
    """``45%``; ``under 1%`` below half a percent.

    >>> percent(0.447), percent(0.002)
    ('45%', 'under 1%')
    """
    whole = round(chance * 100)
    return "under 1%" if whole < 1 else f"{whole}%"


def percent_range(low: float, high: float) -> str:
    """``3 to 45%``; ``under 1%`` where both ends are below that.

    >>> percent_range(0.03, 0.45)
    '3 to 45%'
    """
    first, last = round(low * 100), round(high * 100)
    if last < 1:
        return "under 1%"
    return f"{last}%" if first == last else f"{first} to {last}%"


def distance(metres: float) -> str:
    """Whole metres and feet, both from the metres as given; from a kilometre on km and miles.

    >>> distance(12.4), distance(800), distance(1200)
    ('12 m (41 ft)', '800 m (2,625 ft)', '1.2 km (0.75 mi)')
    """
    if round(metres) < 1000:
        return f"{metres:.0f} m ({metres / _FOOT_M:,.0f} ft)"
    return f"{metres / 1000:.3g} km ({metres / _MILE_M:.2g} mi)"


def joined(words: Iterable[str], last: str = "and") -> str:
    """Each word once, as a sentence lists them.

    >>> joined(["a", "b", "c", "a"]), joined(["a", "b"], "or")
    ('a, b and c', 'a or b')
    """
    several = list(dict.fromkeys(words))
    return f" {last} ".join([", ".join(several[:-1]), several[-1]] if len(several) > 1 else several)
