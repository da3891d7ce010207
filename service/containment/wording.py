"""What holds a plant and what that leaves, in the words of the trade."""

from collections.abc import Sequence

from service.containment.values import Measure, WayOut
from service.values.site import ExitRoute
from service.values.vocabulary import MeasureKind, SpreadMode
from service.values.words import joined

_DO: dict[MeasureKind, str] = {
    "no-drain-tub": "grow it in a tub without holes",
    "solid-pot": "grow it in a pot without holes and trim what grows over the rim",
    "root-barrier": "set a root barrier round the bed",
    "foam-island": "keep it on its moored island",
    "floating-ring": "keep it inside a floating ring",
    "outlet-screen": "put a screen on the outlet",
    "freeboard": "keep room below the rim for a storm",
    "harvest": "cut it back through the season",
    "autumn-removal": "take it out before the first frost",
}
_WAYS: dict[SpreadMode, str] = {
    "seed": "seed",
    "spore": "spores",
    "fragment": "broken pieces",
    "offset": "young plants",
    "runner": "runners",
    "stolon": "runners",
    "rhizome": "rhizomes",
    "tuber": "tubers",
    "turion": "winter buds",
    "bulbil": "bulbils",
}
_ROUTES: dict[ExitRoute, str] = {
    "outlet": "through the outlet",
    "overflow": "with a storm's overflow",
    "flood": "with flood water",
    "bank": "over the bank",
    "birds-and-visitors": "with birds and visitors",
}
MOST_MEASURES = 2


def holding_clause(measures: Sequence[Measure], unheld: Sequence[WayOut]) -> str:
    """``grow it in a tub without holes and put a screen on the outlet; seed can still leave with
    birds and visitors``; empty where no measure does anything.
    """
    useful = [measure for measure in measures if measure.held]
    best = [
        measure for measure in useful if any(held.strength == "holds" for held in measure.held)
    ] or useful[:1]
    if not best:
        return ""
    done = " and ".join(dict.fromkeys(_DO[measure.kind] for measure in best[:MOST_MEASURES]))
    left = leaving(unheld)
    return f"{done}; {left}" if left else done


def leaving(unheld: Sequence[WayOut]) -> str:
    """``broken pieces can still leave through the outlet, seed with birds and visitors``."""
    ways = [way for way in unheld if way.stated] or list(unheld)
    if not ways:
        return ""
    routes: dict[SpreadMode, list[ExitRoute]] = {}
    for way in ways:
        routes.setdefault(way.way, []).append(way.route)
    groups: dict[tuple[ExitRoute, ...], list[SpreadMode]] = {}
    for mode, taken in routes.items():
        groups.setdefault(tuple(taken), []).append(mode)
    parts = [
        f"{joined([_WAYS[mode] for mode in modes])}{' can still leave' if not index else ''} "
        f"{joined([_ROUTES[route] for route in taken])}"
        for index, (taken, modes) in enumerate(groups.items())
    ]
    return ", ".join(parts)
