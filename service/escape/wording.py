"""The plain paragraph of an assessment, and its notes."""

from collections.abc import Sequence

from service.escape.leaves import ROUTES, WATERBORNE
from service.escape.setting import Setting
from service.escape.values import (
    AlreadyHere,
    Comparison,
    EscapeClass,
    Estimate,
    Factor,
    Propagule,
    RouteChance,
    Unknown,
    WaterAssessment,
    Winter,
)
from service.values.plants import Plant
from service.values.quantities import Quantity
from service.values.words import ROUTE_NAMES, distance, percent, percent_range

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


def paragraph(
    plant: Plant,
    setting: Setting,
    waters: Sequence[WaterAssessment],
    overall: Estimate,
    escape_class: EscapeClass | None,
    reaches: EscapeClass | None,
    native: str,
    winter: Winter,
    this_summer: Estimate,
    compared_with: Sequence[Comparison],
    already_here: AlreadyHere | None,
    unknowns: Sequence[Unknown],
) -> str:
    """What a person reads first."""
    if native:
        return " ".join([native, *_records(already_here, native=True), _CLOSING])
    sentences = [
        f"{plant.accepted_name}: the chance that it gets out of {_place(setting)} and founds a "
        f"lasting stand in a water near it within ten years is likely {percent(overall.likely)} "
        f"({percent_range(overall.low, overall.high)})"
        + (f", class {escape_class}." if escape_class else "."),
        *([f"It may reach {reaches}."] if reaches else []),
        *_beside(compared_with),
        *_records(already_here, native=False),
        _to_water(waters),
        *_by_route(waters),
        _winter(winter, overall, this_summer),
        *_kept_down_by(waters),
        *_would_decide(unknowns),
        _CLOSING,
    ]
    return " ".join(sentence for sentence in sentences if sentence)


def _place(setting: Setting) -> str:
    return f"the {setting.place.kind} {setting.place.name}".rstrip()


def _beside(compared_with: Sequence[Comparison]) -> list[str]:
    if not compared_with:
        return []
    return [
        f"Beside well-known plants at this site: {'; '.join(one.words for one in compared_with)}."
    ]


def _records(already_here: AlreadyHere | None, *, native: bool) -> list[str]:
    if already_here is None:
        return []
    words = already_here.words
    return [f"Records: {words.removeprefix('already here, ')}." if native else f"It is {words}."]


def most_exposed(waters: Sequence[WaterAssessment]) -> WaterAssessment:
    """The water to which escape is likeliest."""
    return max(waters, key=lambda water: (water.estimate.likely, water.estimate.high))


def _to_water(waters: Sequence[WaterAssessment]) -> str:
    most = most_exposed(waters)
    if most.distance_m is None:
        return (
            "No water near it is known to this store, so any distance from none to far is allowed "
            "for."
        )
    where = {
        "contains": "which it is planted in",
        "downstream": f"{distance(most.distance_m)} downstream",
        "upstream": f"{distance(most.distance_m)} away over land, upstream",
        "near": f"{distance(most.distance_m)} away over land",
    }[most.relation]
    leaves, arrives = most.leaves.estimate.likely, most.arrives.estimate.likely
    return (
        f"Most exposed is {most.name or 'an unnamed water'}, {where}: "
        f"something leaves {percent(leaves)}, comes there {percent(arrives)}, and would last there "
        f"{percent(most.persists.estimate.likely)}."
    )


def _by_route(waters: Sequence[WaterAssessment]) -> list[str]:
    most = most_exposed(waters)
    route = strongest_route(most.routes)
    if (
        most.relation == "contains"
        or route is None
        or route.propagule is None
        or route.arrives.high < 0.005
    ):
        return []
    return [
        f"The way there that counts most is {ROUTE_NAMES[route.route]}, by "
        f"{_PROPAGULE_NAMES[route.propagule]} ({percent(route.arrives.likely)} to arrive)."
    ]


def strongest_route(routes: Sequence[RouteChance]) -> RouteChance | None:
    """The route that brings most, in the order of the vocabulary."""
    if not routes:
        return None
    return max(
        routes,
        key=lambda one: (one.arrives.likely, one.arrives.high, -ROUTES.index(one.route)),
    )


def _winter(winter: Winter, overall: Estimate, this_summer: Estimate) -> str:
    if winter.survives.low > 0.9:
        return ""
    site = Quantity(winter.site_c.low, winter.site_c.high, "C").text()
    lives = percent_range(winter.survives.low, winter.survives.high)
    returns = percent_range(winter.returns.low, winter.returns.high)
    return (
        f"Winters there go to {site} in a mean year; the chance that the plant lives through them "
        f"is {lives}, and that it comes back from seed, spores or buds {returns}. Left to a single "
        f"summer, each year it is planted, it could still spread: {percent(this_summer.likely)} "
        f"with winter left out, against {percent(overall.likely)} with it."
    )


def _kept_down_by(waters: Sequence[WaterAssessment]) -> list[str]:
    factors = [factor for factor in most_exposed(waters).persists.factors if factor.likely < 0.5]
    return [f"What keeps it down most is {_named(factors[0])}."] if factors else []


def _named(factor: Factor) -> str:
    unit = f" {factor.unit}" if factor.unit else ""
    return factor.name if factor.value is None else f"{factor.name} ({factor.value}{unit})"


def _would_decide(unknowns: Sequence[Unknown]) -> list[str]:
    if not unknowns:
        return []
    questions = " ".join(unknown.question for unknown in unknowns[:3])
    return [f"What would decide it: {questions}"]


def notes(plant: Plant, setting: Setting, loaded: bool, submerged_pieces: bool) -> tuple[str, ...]:
    """What the answer could not take into account, and what no measure stops."""
    found = []
    if not setting.waters:
        found.append("No water was given; the result allows for an unmapped one at any distance.")
    elif not setting.ways.network:
        found.append(
            "No flow network is loaded here: distances are straight lines, and any near water may "
            "lie downstream."
        )
    if not loaded:
        found.append(
            "No occurrence records are loaded: the result rests on traits and climate alone."
        )
    if not plant.catalogued:
        found.append(
            "The plant is known by name alone; every trait is open and the answer is as wide as "
            "that."
        )
    if submerged_pieces:
        found.append(
            "It breaks into living pieces under water. No measure is credited against those where "
            "water leaves; choose another plant."
        )
    return tuple(found)


def leaves_by_water(setting: Setting) -> bool:
    """Whether water may leave the place at all."""
    return any(setting.openings[route].chance[-1] > 0.05 for route in WATERBORNE)
