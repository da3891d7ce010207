"""The three stages of one water, written out factor by factor."""

from functools import lru_cache

import numpy as np

from service.escape.arrives import travel_scale
from service.escape.climate import season_days, site_cold
from service.escape.draws import Array
from service.escape.factors import BY_REQUEST, MEASURED, NOT_GIVEN, by_weight, pulls_down, pushes_up
from service.escape.habitat import depth_match, flow_match, light_match, room
from service.escape.history import NATIVE_TERM, terms
from service.escape.leaves import ROUTES, WATERBORNE, made, residual_of_all
from service.escape.model import Outcome
from service.escape.spread import Strongest
from service.escape.values import (
    Estimate,
    Factor,
    PlannedMeasure,
    Propagule,
    Stage,
)
from service.values.evidence import Evidence
from service.values.plants import Provenance
from service.values.site import EscapeRoute, Reached
from service.values.vocabulary import Flow, WaterKind
from service.values.words import ROUTE_NAMES


def leaves_stage(
    outcome: Outcome, estimate: Estimate, measures: tuple[PlannedMeasure, ...], *, within: bool
) -> Stage:
    """Leaves; the same for every water but those that the planting is set in."""
    if within:
        certain = outcome.setting.draws.known(1.0)
        inside = pushes_up(
            "place", "planted in the water itself", "", certain, "raises", BY_REQUEST, None
        )
        return Stage(Estimate.point(1.0), (inside,))
    parameters = outcome.setting.parameters
    factors = []
    for route, way in outcome.setting.openings.items():
        factors.append(
            pushes_up(
                ROUTE_NAMES[route],
                way.value,
                way.unit,
                outcome.spread.leaves_by[ROUTES.index(route)],
                "raises",
                NOT_GIVEN if way.value is None else BY_REQUEST,
                parameters.coefficient(way.coefficient),
            )
        )
    factors += [_area(outcome), _ways_of_spreading(outcome)]
    factors += [_measure(outcome, measure) for measure in measures]
    return Stage(estimate, by_weight(factors))


def _area(outcome: Outcome) -> Factor:
    area = outcome.setting.place.area_m2
    return pulls_down(
        "planted area",
        area,
        "" if area is None else "m2",
        outcome.setting.stand,
        "raises",
        NOT_GIVEN if area is None else BY_REQUEST,
        outcome.setting.parameters.coefficient("open.area.half"),
    )


def _ways_of_spreading(outcome: Outcome) -> Factor:
    """By the route that the plant's ways of spreading suit best."""
    plant, modes = outcome.plant, outcome.plant.traits.spread_modes
    middles = [
        (chance[-2], -ROUTES.index(route), route, propagule)
        for route, by_propagule in outcome.spread.away.items()
        for propagule, chance in by_propagule.items()
    ]
    if not middles:
        return pulls_down(
            "ways of spreading",
            None,
            "",
            outcome.setting.draws.known(0.0),
            "raises",
            NOT_GIVEN,
            None,
        )
    _, _, route, propagule = max(middles)
    return pulls_down(
        "ways of spreading",
        ", ".join(modes) or propagule,
        "",
        outcome.spread.away[route][propagule],
        "raises",
        plant.known("spread_modes"),
        outcome.setting.parameters.coefficient(f"carry.{route}.{propagule}"),
    )


def _measure(outcome: Outcome, measure: PlannedMeasure) -> Factor:
    """What a measure leaves where it does most."""
    draws, traits = outcome.setting.draws, outcome.plant.traits
    left = [
        residual_of_all((measure,), traits, route, propagule, draws)
        for route in ROUTES
        for propagule in made(traits)
    ]
    best = min(left, key=lambda rows: float(rows[-2]), default=draws.known(1.0))
    opening = measure.opening_mm
    value = measure.kind if opening is None else f"{measure.kind}, opening {opening:g} mm"
    parameters = outcome.setting.parameters
    key = next(key for key in parameters.coefficients if f"measure.{measure.kind}." in key)
    return pulls_down(
        "containment", value, "", best, "lowers", BY_REQUEST, parameters.coefficient(key)
    )


def arrives_stage(outcome: Outcome, w: int, estimate: Estimate, most: Strongest) -> Stage:
    """Arrives, with the distance by the route and the propagule that bring most."""
    setting = outcome.setting
    route = most.route[w]
    propagule = most.propagule[route][w] if route else None
    if route is None or propagule is None:
        return Stage(estimate, ())
    ends = setting.ways.share(route, propagule)[w, -3:]
    if not setting.waters:
        return Stage(estimate, (pulls_down("distance", None, "", ends, "lowers", NOT_GIVEN, None),))
    return Stage(estimate, by_weight(_distance(outcome, setting.waters[w], route, propagule, ends)))


def _distance(
    outcome: Outcome, water: Reached, route: EscapeRoute, propagule: Propagule, ends: Array
) -> list[Factor]:
    parameters, draws = outcome.setting.parameters, outcome.setting.draws
    along = route in WATERBORNE and water.relation == "downstream" and water.along_m is not None
    factors = [
        pulls_down(
            "distance along the water" if along else "distance over land",
            water.along_m if along else water.overland_m,
            "m",
            ends,
            "lowers",
            MEASURED,
            parameters.coefficient(travel_scale(route, propagule, water)),
        ),
        _lies(water),
    ]
    if along and water.lakes_passed:
        passed = draws.of("reach.still_water.passed")[-3:] ** water.lakes_passed
        factors.append(
            pulls_down(
                "lakes passed on the way",
                float(water.lakes_passed),
                "",
                passed,
                "lowers",
                MEASURED,
                parameters.coefficient("reach.still_water.passed"),
            )
        )
    return factors


_LIES = {
    "contains": "the planting is set in it",
    "downstream": "downstream on the flow network",
    "upstream": "upstream: over land only",
    "near": "near, with no way by water known",
}


def _where(water: Reached) -> str:
    states = ", ".join(state.removeprefix("US-") for state in water.water.states)
    return f"{_LIES[water.relation]}, in {states}" if states else _LIES[water.relation]


@lru_cache(maxsize=8192)
def _lies(water: Reached) -> Factor:
    """The way by water: certain downstream, none upstream, unknown for a near water."""
    ends = {"upstream": (0.0, 0.0, 0.0), "near": (0.0, 0.5, 1.0)}.get(
        water.relation, (1.0, 1.0, 1.0)
    )
    return pulls_down("lies", _where(water), "", np.array(ends), "raises", MEASURED, None)


def shared_factors(outcome: Outcome) -> tuple[Factor, ...]:
    """What the site decides: winter, warm end, season; and what the plant brings: founding,
    history.
    """
    return (_winter(outcome), _warm(outcome), _season(outcome), _founding(outcome), _past(outcome))


def _winter(outcome: Outcome) -> Factor:
    plant = outcome.plant
    zone, site = plant.traits.zone_min, site_cold(outcome.setting.climate)
    value = None
    if zone is not None and site.known:
        value = f"grown from zone {zone} up; site {site.text}"
    kind = plant.traits.frost_kill
    key = f"winter.shift.{kind if kind in ('yes', 'no') else 'top-only'}"
    return pulls_down(
        "winter",
        value,
        "",
        outcome.climatic.winter.persists,
        "raises",
        plant.known("zone_min") if zone is not None else NOT_GIVEN,
        outcome.setting.parameters.coefficient(key),
    )


def _warm(outcome: Outcome) -> Factor:
    zone = outcome.plant.traits.zone_max
    return pulls_down(
        "warm end",
        None if zone is None else f"grown up to zone {zone}",
        "",
        outcome.climatic.warm,
        "raises",
        outcome.plant.known("zone_max") if zone is not None else NOT_GIVEN,
        outcome.setting.parameters.coefficient("warm.shift.margin"),
    )


def _season(outcome: Outcome) -> Factor:
    frost, parameters = outcome.setting.climate.first_frost, outcome.setting.parameters
    days = season_days(frost, parameters)
    return pulls_down(
        "growing season",
        f"{days.low:.0f} to {days.high:.0f}" if frost else None,
        "days" if frost else "",
        outcome.climatic.season,
        "raises",
        BY_REQUEST if frost else NOT_GIVEN,
        parameters.coefficient("season.needed.days"),
    )


def _founding(outcome: Outcome) -> Factor:
    plant, modes = outcome.plant, outcome.plant.traits.spread_modes
    best = "fragment" if "fragment" in modes else modes[0] if modes else "seed"
    return pulls_down(
        "founding",
        ", ".join(modes) or None,
        "",
        outcome.founding,
        "raises",
        plant.known("spread_modes") if modes else NOT_GIVEN,
        outcome.setting.parameters.coefficient(f"founding.{best}"),
    )


_ORIGINS = {
    "yes": "native to North America",
    "part": "native to North America in part, or disputed",
    "no": "not native to North America",
    None: "origin not known",
}


def _past(outcome: Outcome) -> Factor:
    """History and ways of the plant, whose weights were fitted together."""
    traits = outcome.plant.traits
    past, rate = traits.history, traits.spread_rate
    parts = [_ORIGINS[traits.native_north_america]]
    if past is not None:
        parts.insert(0, past.words())
    if rate is not None:
        parts.append(f"spread rated {rate} by growers")
    known: Provenance = outcome.plant.known("history") if past is not None else NOT_GIVEN
    return pulls_down(
        "history and ways of the plant",
        "; ".join(parts) if terms(traits) else None,
        "",
        outcome.lasting,
        "raises",
        known,
        outcome.setting.parameters.coefficient(f"history.weight.{NATIVE_TERM}"),
    )


def water_factors(
    outcome: Outcome, kind: WaterKind | None, flow: Flow | None
) -> tuple[Factor, ...]:
    """What the water decides: depth, flow, light, room. None is a water that no map shows."""
    traits, plant = outcome.plant.traits, outcome.plant
    draws, parameters = outcome.setting.draws, outcome.setting.parameters
    some = kind or "pond"
    least = traits.depth_cm.low if traits.depth_cm else None
    form = traits.growth_form
    return (
        pulls_down(
            "depth of the water",
            least,
            "cm" if least is not None else "",
            depth_match(traits, kind, draws),
            "lowers",
            plant.known("depth_cm_min"),
            parameters.coefficient(f"habitat.depth.{some}"),
        ),
        pulls_down(
            "flow of the water",
            flow,
            "",
            flow_match(traits.flow, flow, draws),
            "lowers",
            plant.known("flow"),
            parameters.coefficient("habitat.flow.same"),
        ),
        pulls_down(
            "light",
            ", ".join(traits.light) or None,
            "",
            light_match(traits, kind, draws),
            "raises",
            plant.known("light"),
            parameters.coefficient(f"habitat.open_light.{some}"),
        ),
        pulls_down(
            "room for the growth form",
            f"{form} in a {kind}" if form and kind else form,
            "",
            room(form, kind, draws),
            "raises",
            plant.known("growth_form") if form else NOT_GIVEN,
            parameters.coefficient(f"habitat.form.{form or 'emergent'}.{some}"),
        ),
    )


def records_factor(plain: Estimate, lifted: Estimate, words: str, evidence: Evidence) -> Factor:
    """What records of the plant around the site did to it."""
    titles = "; ".join(dataset.title for dataset in evidence.datasets)
    moved = lifted.likely - plain.likely
    return Factor(
        "occurrence records",
        words,
        "",
        lifted.interval,
        lifted.likely,
        "raises",
        moved,
        "measured",
        titles or "common practice, no source",
    )
