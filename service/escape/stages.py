"""The three stages of one water, written out factor by factor."""

from functools import lru_cache

from service.escape.establish import Establishment, in_water
from service.escape.factors import BY_REQUEST, MEASURED, NOT_GIVEN, by_weight, pulls_down, pushes_up
from service.escape.interval import CERTAIN, Interval
from service.escape.model import Inputs
from service.escape.parameters import Parameters
from service.escape.posterior import counts
from service.escape.release import PROPAGULES, ROUTES, WATERBORNE, Array, applied_measures
from service.escape.values import Factor, Propagule, RouteChance, Stage
from service.escape.wording import ROUTE_NAMES, strongest_route
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.site import ExitRoute
from service.values.vocabulary import WaterId
from service.values.waters import Reached

OPEN_TO_IT: tuple[ExitRoute, ...] = ("outlet", "bank")
"""Ways out that are open in any case where the planting stands in the water itself."""


def routes_to(inputs: Inputs) -> list[tuple[RouteChance, ...]]:
    """Every way out toward every water."""
    opening = inputs.case.setting.opening
    released = _intervals(opening * inputs.leaving[:, None, :])
    arrives = _intervals(opening * inputs.arriving)
    travelling = inputs.carried[1] * inputs.case.setting.reach[1]
    most, some = travelling.argmax(axis=-1).tolist(), (travelling.max(axis=-1) > 0.0).tolist()
    return [
        tuple(
            RouteChance(
                route, released[w][r], arrives[w][r], PROPAGULES[most[w][r]] if some[w][r] else None
            )
            for r, route in enumerate(ROUTES)
        )
        for w in range(opening.shape[1])
    ]


def _intervals(ends: Array) -> list[list[Interval]]:
    """(2, waters, routes) as intervals; equal ones are one value."""
    known: dict[tuple[float, float], Interval] = {}
    return [
        [known.get(pair) or known.setdefault(pair, Interval(*pair)) for pair in pairs]
        for pairs in (list(zip(*both, strict=True)) for both in zip(*ends.tolist(), strict=True))
    ]


def release_stage(
    inputs: Inputs, interval: Interval, routes: tuple[RouteChance, ...], *, within: bool
) -> Stage:
    """Release toward a water; the same for every water but those that the planting stands in."""
    case = inputs.case
    setting, traits, parameters = case.setting, case.plant.traits, case.setting.parameters
    factors = []
    for route in routes:
        way = setting.openings[route.route]
        inside = within and route.route in OPEN_TO_IT
        factors.append(
            pushes_up(
                ROUTE_NAMES[route.route],
                "stands in the water" if inside else way.value,
                "" if inside else way.unit,
                route.released,
                "raises",
                NOT_GIVEN if way.value is None and not inside else BY_REQUEST,
                parameters.coefficient(way.coefficient),
            )
        )
    factors.append(_area_factor(inputs))
    factors.append(_ways_of_spreading(inputs))
    for measure, left, key in applied_measures(case.measures, traits, parameters):
        opening = measure.opening_mm
        value = measure.kind if opening is None else f"{measure.kind}, opening {opening:g} mm"
        coefficient = parameters.coefficient(key)
        factors.append(
            pulls_down("containment", value, "", left, "lowers", BY_REQUEST, coefficient)
        )
    return Stage(interval, by_weight(factors))


def _area_factor(inputs: Inputs) -> Factor:
    setting = inputs.case.setting
    area = setting.place.area_m2
    return pulls_down(
        "planted area",
        area,
        "" if area is None else "m2",
        setting.stand_size,
        "raises",
        NOT_GIVEN if area is None else BY_REQUEST,
        setting.parameters.coefficient("open.area.half"),
    )


def _ways_of_spreading(inputs: Inputs) -> Factor:
    """By the route that the plant's ways of spreading suit best."""
    plant = inputs.case.plant
    modes = plant.traits.spread_modes
    leaving = inputs.leaving
    r = int(leaving[1].argmax())
    m = int(inputs.carried[1, r].argmax())
    return pulls_down(
        "ways of spreading",
        ", ".join(modes) or None,
        "",
        Interval(float(leaving[0, r]), float(leaving[1, r])),
        "raises",
        plant.known("spread_modes") if modes else NOT_GIVEN,
        inputs.case.setting.parameters.coefficient(f"carry.{ROUTES[r]}.{PROPAGULES[m]}"),
    )


def reach_stage(inputs: Inputs, w: int, routes: tuple[RouteChance, ...]) -> Stage:
    """Reach by the route and the propagule that bring most."""
    setting = inputs.case.setting
    strongest = strongest_route(routes)
    if strongest is None or strongest.propagule is None:
        return Stage(Interval(0.0, 0.0), ())
    r, m = ROUTES.index(strongest.route), PROPAGULES.index(strongest.propagule)
    low, high = setting.reach[:, w, r, m].tolist()
    water = setting.waters[w] if setting.waters else None
    return _reach_stage(
        Interval(low, high), strongest.route, strongest.propagule, water, setting.parameters
    )


@lru_cache(maxsize=8192)
def _reach_stage(
    interval: Interval,
    route: ExitRoute,
    propagule: Propagule,
    water: Reached | None,
    parameters: Parameters,
) -> Stage:
    if water is None:
        return Stage(
            interval, (pulls_down("distance", None, "", interval, "lowers", NOT_GIVEN, None),)
        )
    along = route in WATERBORNE and water.relation == "downstream" and water.along_m is not None
    distance_m = water.along_m if along else water.overland_m
    scale = parameters.coefficient(_scale_key(route, propagule, water))
    factors = [
        pulls_down(
            "distance along the water" if along else "distance over land",
            distance_m,
            "m",
            interval,
            "lowers",
            MEASURED,
            scale,
        ),
        pulls_down("lies", _where(water), "", _lies(water), "raises", MEASURED, None),
    ]
    if along and water.lakes_passed:
        passed = parameters.coefficient("reach.still_water.passed")
        share = Interval(passed.low**water.lakes_passed, passed.high**water.lakes_passed)
        factors.append(
            pulls_down(
                "lakes passed on the way",
                float(water.lakes_passed),
                "",
                share,
                "lowers",
                MEASURED,
                passed,
            )
        )
    return Stage(interval, by_weight(factors))


def _scale_key(route: ExitRoute, propagule: Propagule, water: Reached) -> str:
    if route in WATERBORNE:
        if route != "outlet" and water.relation == "upstream":
            return f"reach.sheet.{route}"
        return f"reach.drift.{propagule}"
    return f"reach.creep.{propagule}" if route == "bank" else f"reach.carried.{propagule}"


_LIES = {
    "contains": "the planting stands in it",
    "downstream": "downstream on the flow network",
    "upstream": "upstream: over land only",
    "near": "near, with no way by water known",
}


def _where(water: Reached) -> str:
    states = ", ".join(state.removeprefix("US-") for state in water.water.states)
    return f"{_LIES[water.relation]}, in {states}" if states else _LIES[water.relation]


def _lies(water: Reached) -> Interval:
    """The way by water: certain downstream, none upstream, unknown for a near water."""
    if water.relation in ("contains", "downstream"):
        return CERTAIN
    return Interval(0.0, 0.0) if water.relation == "upstream" else Interval(0.0, 1.0)


def establish_stage(
    shared: Establishment,
    of_water: tuple[Factor, ...],
    prior: Interval,
    posterior: Interval,
    water_id: WaterId,
    evidence: Evidence | None,
    parameters: Parameters,
) -> Stage:
    """Establish, with what the occurrence records made of it."""
    factors = [*shared.shared, *of_water]
    if evidence is not None and evidence.loaded:
        factors.append(_records(prior, posterior, water_id, evidence, parameters))
    return Stage(posterior, by_weight(factors))


def _records(
    prior: Interval,
    posterior: Interval,
    water_id: WaterId,
    evidence: Evidence,
    parameters: Parameters,
) -> Factor:
    plant, every = counts(water_id, evidence)
    coefficient = parameters.coefficient("evidence.prior.weight")
    moved = max(abs(posterior.low - prior.low), abs(posterior.high - prior.high))
    titles = "; ".join(dataset.title for dataset in evidence.datasets)
    citation = (
        f"{titles}; coefficient: {coefficient.source}"
        if titles
        else f"coefficient: {coefficient.source}"
    )
    value = f"{plant} of {every} water-plant records"
    return Factor("occurrence records", value, "", posterior, "raises", moved, "measured", citation)


def water_factors(
    plant: Plant, reached: Reached | None, parameters: Parameters
) -> tuple[Factor, ...]:
    """Factors of the establish stage that the water decides."""
    return in_water(plant, reached.water if reached else None, parameters)
