"""The plain paragraph of an assessment, its notes, and how chances and distances are written."""

from collections.abc import Sequence

from service.escape.interval import Interval
from service.escape.release import ROUTES, WATERBORNE
from service.escape.setting import Setting
from service.escape.values import (
    EscapeClass,
    Factor,
    Propagule,
    RouteChance,
    Unknown,
    WaterAssessment,
    Winter,
)
from service.values.plants import Plant
from service.values.quantities import Quantity
from service.values.site import ExitRoute

_MILE_M = 1609.344

ROUTE_NAMES: dict[ExitRoute, str] = {
    "outlet": "the outlet",
    "overflow": "storm overflow",
    "flood": "flood water",
    "bank": "the bank",
    "birds-and-visitors": "birds and visitors",
}

_PROPAGULE_NAMES: dict[Propagule, str] = {
    "seed": "seed",
    "spore": "spores",
    "fragment": "pieces of stem",
    "offset": "offsets",
    "runner": "runners",
    "stolon": "stolons",
    "rhizome": "rhizomes",
    "tuber": "tubers",
    "turion": "winter buds",
    "bulbil": "bulbils",
    "whole-plant": "whole floating plants",
}

_CLOSING = (
    "Ask the state's aquatic plant or invasive species office before planting near open water; "
    "this is an estimate, and its coefficients are common practice where no source is named."
)


def percent(interval: Interval) -> str:
    """``3 to 45%``; below half a percent ``under 1%``."""
    low, high = round(interval.low * 100), round(interval.high * 100)
    if high < 1:
        return "under 1%"
    return f"{high}%" if low == high else f"{low} to {high}%"


def distance(metres: float) -> str:
    """``800 m (2,620 ft)``; from 1 km on ``1.2 km (0.75 mi)``."""
    if metres < 1000:
        return Quantity.exact(metres, "m").text()
    return f"{metres / 1000:.3g} km ({metres / _MILE_M:.2g} mi)"


def paragraph(
    plant: Plant,
    setting: Setting,
    waters: Sequence[WaterAssessment],
    overall: Interval,
    escape_class: EscapeClass,
    winter: Winter,
    this_summer: Interval,
    unknowns: Sequence[Unknown],
) -> str:
    """What a person reads first."""
    sentences = [
        f"{plant.accepted_name}: the chance that it gets out of {_place(setting)} and establishes in a water near it "
        f"within ten years is put at {percent(overall)}, class {escape_class} by the upper end.",
        _to_water(waters),
        *_by_route(waters),
        _winter(winter, overall, this_summer),
        *_held_down_by(waters),
        *_would_narrow(unknowns),
        _CLOSING,
    ]
    return " ".join(sentence for sentence in sentences if sentence)


def _place(setting: Setting) -> str:
    return f"the {setting.place.kind} {setting.place.name}".rstrip()


def _strongest(waters: Sequence[WaterAssessment]) -> WaterAssessment:
    return max(waters, key=lambda water: (water.interval.high, water.interval.low))


def _to_water(waters: Sequence[WaterAssessment]) -> str:
    most = _strongest(waters)
    if most.distance_m is None:
        return "No water near it is known to this store, so any distance from none to far is allowed for."
    where = {
        "contains": "which it stands in",
        "downstream": f"{distance(most.distance_m)} downstream",
        "upstream": f"{distance(most.distance_m)} away over land, upstream",
        "near": f"{distance(most.distance_m)} away over land",
    }[most.relation]
    return f"Most exposed is {most.name or 'an unnamed water'}, {where}: {percent(most.interval)}."


def _by_route(waters: Sequence[WaterAssessment]) -> list[str]:
    route = strongest_route(_strongest(waters).routes)
    if route is None or route.propagule is None or route.arrives.high < 0.005:
        return []
    return [
        f"The way there that counts most is {ROUTE_NAMES[route.route]}, by {_PROPAGULE_NAMES[route.propagule]} "
        f"({percent(route.arrives)} to arrive)."
    ]


def strongest_route(routes: Sequence[RouteChance]) -> RouteChance | None:
    """The route that brings most, by upper and then lower end, in the order of the vocabulary."""
    if not routes:
        return None
    return max(
        routes, key=lambda one: (one.arrives.high, one.arrives.low, -ROUTES.index(one.route))
    )


def _winter(winter: Winter, overall: Interval, this_summer: Interval) -> str:
    site = Quantity(winter.site_c.low, winter.site_c.high, "C").text()
    lives = f"Winters there go to {site} in a mean year; the chance that the plant lives through them is "
    lives += f"{percent(winter.survives)}"
    if winter.survives.low > 0.9:
        return f"{lives}."
    return (
        f"{lives}, and that it comes back from seed, spores or buds {percent(winter.returns)}. "
        f"Left to a single summer, each year it is planted, it could still spread: {percent(this_summer)} "
        f"with winter left out, against {percent(overall)} with it."
    )


def _held_down_by(waters: Sequence[WaterAssessment]) -> list[str]:
    factors = [
        factor for factor in _strongest(waters).establish.factors if factor.interval.high < 0.5
    ]
    if not factors:
        return []
    return [f"What holds it down most is {_named(factors[0])}."]


def _named(factor: Factor) -> str:
    value = (
        ""
        if factor.value is None
        else f" ({factor.value}{' ' + factor.unit if factor.unit else ''})"
    )
    return f"{factor.name}{value}"


def _would_narrow(unknowns: Sequence[Unknown]) -> list[str]:
    if not unknowns:
        return []
    questions = " ".join(unknown.question for unknown in unknowns[:3])
    return [f"What would narrow this most: {questions}"]


def notes(plant: Plant, setting: Setting, loaded: bool, submerged_held: bool) -> tuple[str, ...]:
    """What the answer could not take into account, and what no measure settles."""
    found = []
    if not setting.waters:
        found.append("No water was given; the result allows for an unmapped one at any distance.")
    elif not setting.network:
        found.append(
            "No flow network is loaded here: distances are straight lines, and any near water may lie downstream."
        )
    if not loaded:
        found.append(
            "No occurrence records are loaded: the result rests on traits and climate alone."
        )
    if not plant.catalogued:
        found.append(
            "The plant is known by name alone; every trait is open and the interval is as wide as that."
        )
    if submerged_held:
        found.append(
            "It breaks into living pieces under water. No measure is credited against those where water leaves; choose another plant."
        )
    return tuple(found)


def leaves_by_water(setting: Setting) -> bool:
    """Whether water may leave the place at all."""
    return any(setting.openings[route].interval.high > 0.05 for route in WATERBORNE)
