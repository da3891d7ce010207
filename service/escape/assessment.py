"""Would it get out here, and to which water: the assessment of plants at a place."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from service.errors import BadRequest
from service.escape import chain, unknowns
from service.escape.establish import at_site, plant_interval
from service.escape.interval import Interval, union
from service.escape.model import Case, Inputs, Outcome, case_of, inputs_of, run, run_all
from service.escape.parameters import Parameters, default_parameters
from service.escape.setting import UNMAPPED, Setting, setting, to_interval
from service.escape.stages import (
    establish_stage,
    reach_stage,
    release_stage,
    routes_to,
    water_factors,
)
from service.escape.values import (
    Assessment,
    EscapeClass,
    Factor,
    PlannedMeasure,
    Stage,
    Unknown,
    WaterAssessment,
)
from service.escape.winter import winter
from service.escape.wording import leaves_by_water, notes, paragraph
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.site import Climate, Place
from service.values.vocabulary import PlantId
from service.values.waters import Reached

_PlaceQuestions = list[tuple[str, str, list[tuple[str, Setting]]]]


def assess(
    plant: Plant,
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Evidence | None,
    *,
    containment: Sequence[PlannedMeasure] = (),
    parameters: Parameters = default_parameters(),
) -> Assessment:
    """Would this plant get out of this place, to which of the waters, and establish there, within
    ten years.

    Args:
        waters: none leaves an unmapped water at any distance.
        evidence: occurrence records around the place; None, or not loaded, leaves traits and
            climate alone.
        containment: planned; lowers release only, and never raises anything.

    Raises:
        UnknownValue: the climate names no hardiness zone that exists.
        BadRequest: a quantity of the place, climate or waters is impossible.
    """
    records = {} if evidence is None else {plant.plant_id: evidence}
    return assess_many(
        [plant], place, climate, waters, records, containment=containment, parameters=parameters
    )[0]


def assess_many(
    plants: Sequence[Plant],
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Mapping[PlantId, Evidence],
    *,
    containment: Sequence[PlannedMeasure] | Mapping[PlantId, Sequence[PlannedMeasure]] = (),
    parameters: Parameters = default_parameters(),
) -> tuple[Assessment, ...]:
    """Assess several plants of one place, in the order given.

    Args:
        containment: for all of the plants, or by plant.
    """
    _check(place, climate, waters)
    base = setting(place, climate, waters, parameters)
    questions = unknowns.place_settings(base)
    found = []
    for plant in plants:
        planned = (
            containment.get(plant.plant_id, ()) if isinstance(containment, Mapping) else containment
        )
        case = case_of(plant, base, tuple(planned), evidence.get(plant.plant_id))
        found.append(_assessed(case, evidence.get(plant.plant_id), questions))
    return tuple(found)


def assess_widest(
    plants: Sequence[Plant],
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Mapping[PlantId, Evidence],
    *,
    containment: Sequence[PlannedMeasure] = (),
    parameters: Parameters = default_parameters(),
) -> Assessment:
    """One assessment for a label that may mean any of several plants: every interval covers all of
    them.

    Factors, routes and paragraph are those of the plant with the highest upper end.

    Raises:
        BadRequest: no plant is given.
    """
    if not plants:
        raise BadRequest(
            "There is no plant to assess.",
            next_step="Give at least one plant that the label may mean.",
        )
    several = assess_many(
        plants, place, climate, waters, evidence, containment=containment, parameters=parameters
    )
    if len(several) == 1:
        return several[0]
    worst = max(several, key=lambda one: (one.interval.high, one.interval.low))
    whole = union(one.interval for one in several)
    names = ", ".join(plant.accepted_name for plant in plants)
    return replace(
        worst,
        candidates=tuple(plant.plant_id for plant in plants),
        waters=tuple(
            _widest_water([one.waters[w] for one in several], worst.waters[w], parameters)
            for w in range(len(worst.waters))
        ),
        interval=whole,
        escape_class=escape_class(whole, parameters),
        this_summer=union(one.this_summer for one in several),
        paragraph=f"The label may mean any of {names}; the figures cover all of them, and the words are those of the "
        f"one that could go furthest. {worst.paragraph}",
        notes=tuple(dict.fromkeys(note for one in several for note in one.notes)),
        datasets=tuple(dict.fromkeys(dataset for one in several for dataset in one.datasets)),
    )


def escape_class(interval: Interval, parameters: Parameters = default_parameters()) -> EscapeClass:
    """Class by the upper end."""
    if interval.high >= parameters.value("classes.high_from"):
        return "high"
    return "moderate" if interval.high >= parameters.value("classes.moderate_from") else "low"


def _check(place: Place, climate: Climate, waters: Sequence[Reached]) -> None:
    for name, value in (("area_m2", place.area_m2), ("outlet_flow_l_s", place.outlet_flow_l_s)):
        if value is not None and not (np.isfinite(value) and value >= 0):
            raise BadRequest(f"{name} of {place.name} cannot be {value}.", pointer=f"/place/{name}")
    if (
        climate.extreme_minimum_c is not None
        and climate.extreme_minimum_c[0] > climate.extreme_minimum_c[1]
    ):
        raise BadRequest(
            "extreme_minimum_c runs from warm to cold.", pointer="/climate/extreme_minimum_c"
        )
    for number, reached in enumerate(waters):
        for name, value in (("overland_m", reached.overland_m), ("along_m", reached.along_m)):
            if value is not None and not (np.isfinite(value) and value >= 0):
                raise BadRequest(
                    f"{name} of {reached.water.name or reached.water.water_id} cannot be {value}.",
                    pointer=f"/waters/{number}/{name}",
                )


def _assessed(
    case: Case, evidence: Evidence | None, place_questions: _PlaceQuestions
) -> Assessment:
    inputs = inputs_of(case)
    outcome = run(inputs)
    parameters = case.setting.parameters
    whole = to_interval(outcome.overall)
    klass = escape_class(whole, parameters)
    cold = winter(case.plant.traits, case.setting.climate, parameters)
    summer = _this_summer(inputs, outcome)
    waters = _waters(inputs, outcome, evidence)
    deciding = _deciding(inputs, outcome, place_questions)
    loaded = evidence is not None and evidence.loaded
    return Assessment(
        candidates=(case.plant.plant_id,),
        waters=waters,
        interval=whole,
        escape_class=klass,
        winter=cold,
        this_summer=summer,
        deciding_unknowns=deciding,
        paragraph=paragraph(case.plant, case.setting, waters, whole, klass, cold, summer, deciding),
        notes=notes(case.plant, case.setting, loaded, _breaks_away(case)),
        datasets=evidence.datasets if evidence is not None and evidence.loaded else (),
    )


def _breaks_away(case: Case) -> bool:
    traits = case.plant.traits
    pieces = traits.growth_form == "submerged" and "fragment" in traits.spread_modes
    return pieces and leaves_by_water(case.setting)


def _this_summer(inputs: Inputs, outcome: Outcome) -> Interval:
    """The chain again with winter left out; never below the result with it."""
    traits, climate = inputs.case.plant.traits, inputs.case.setting.climate
    lasting = plant_interval(traits, climate, inputs.case.setting.parameters, through_winter=False)
    without = run(replace(inputs, of_plant=np.array((lasting.low, lasting.high))))
    return to_interval(np.maximum(without.overall, outcome.overall))


def _waters(
    inputs: Inputs, outcome: Outcome, evidence: Evidence | None
) -> tuple[WaterAssessment, ...]:
    case = inputs.case
    place, parameters = case.setting, case.setting.parameters
    shared = at_site(case.plant, place.climate, parameters)
    by_water, established = outcome.by_water.tolist(), outcome.established.tolist()
    prior = (inputs.of_plant[:, np.newaxis] * inputs.of_water).tolist()
    released = chain.either_route(place.opening, inputs.leaving[:, np.newaxis, :]).tolist()
    release_stages: dict[bool, Stage] = {}
    factors: dict[tuple[object, ...], tuple[Factor, ...]] = {}
    found = []
    for w, routes in enumerate(routes_to(inputs)):
        reached = place.waters[w] if place.waters else None
        water = reached.water if reached else None
        within = reached is not None and reached.relation == "contains"
        if within not in release_stages:
            leaves = Interval(released[0][w], released[1][w])
            release_stages[within] = release_stage(inputs, leaves, routes, within=within)
        kind = (water.kind, water.flow, water.states) if water else ()
        if kind not in factors:
            factors[kind] = water_factors(case.plant, reached, parameters)
        interval = Interval(by_water[0][w], by_water[1][w])
        water_id = water.water_id if water else UNMAPPED
        found.append(
            WaterAssessment(
                water_id=water_id,
                name=water.name if water else "a water that no map shows",
                relation=reached.relation if reached else "near",
                distance_m=_distance_m(reached),
                interval=interval,
                escape_class=escape_class(interval, parameters),
                release=release_stages[within],
                reach=reach_stage(inputs, w, routes),
                establish=establish_stage(
                    shared,
                    factors[kind],
                    Interval(prior[0][w], prior[1][w]),
                    Interval(established[0][w], established[1][w]),
                    water_id,
                    evidence,
                    parameters,
                ),
                routes=routes,
            )
        )
    return tuple(found)


def _distance_m(reached: Reached | None) -> float | None:
    if reached is None:
        return None
    downstream = reached.relation == "downstream" and reached.along_m is not None
    return reached.along_m if downstream else reached.overland_m


def _deciding(
    inputs: Inputs, outcome: Outcome, place_questions: _PlaceQuestions
) -> tuple[Unknown, ...]:
    case = inputs.case
    questions = [
        unknowns.Question(
            fact, text, [(answer, replace(case, setting=there)) for answer, there in answers]
        )
        for fact, text, answers in place_questions
    ]
    questions.extend(unknowns.plant_questions(case))
    questions.extend(
        unknowns.record_question(case, case.setting.parameters.value("evidence.weight.water"))
    )
    return unknowns.ranked(
        outcome, questions, lambda cases: run_all([inputs_of(one, like=inputs) for one in cases])
    )


def _widest_water(
    several: Sequence[WaterAssessment], worst: WaterAssessment, parameters: Parameters
) -> WaterAssessment:
    whole = union(one.interval for one in several)
    return replace(
        worst,
        interval=whole,
        escape_class=escape_class(whole, parameters),
        release=replace(worst.release, interval=union(one.release.interval for one in several)),
        reach=replace(worst.reach, interval=union(one.reach.interval for one in several)),
        establish=replace(
            worst.establish, interval=union(one.establish.interval for one in several)
        ),
    )
