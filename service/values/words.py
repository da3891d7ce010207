"""How chances and distances are written, the one place for it."""

from service.values.quantities import Quantity
from service.values.site import EscapeRoute

_MILE_M = 1609.344

ROUTE_NAMES: dict[EscapeRoute, str] = {
    "outlet": "the outlet",
    "overflow": "storm overflow",
    "flood": "flood water",
    "bank": "the bank",
    "birds-and-visitors": "birds and visitors",
    "surplus": "surplus given away or tipped out",
}


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
    """``800 m (2,620 ft)``; from a kilometre on ``1.2 km (0.75 mi)``.

    >>> distance(1200)
    '1.2 km (0.75 mi)'
    """
    if metres < 1000:
        return Quantity.exact(round(metres), "m").text()
    return f"{metres / 1000:.3g} km ({metres / _MILE_M:.2g} mi)"
