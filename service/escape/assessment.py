"""Would it get out here, and to which water: the assessment of plants at a place."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import get_args

import numpy as np

from service.errors import BadRequest
from service.escape.classes import class_reached, escape_class
from service.escape.climate import site_cold
from service.escape.combining import widened, widest
from service.escape.comparing import anchors, compared
from service.escape.factors import by_weight
from service.escape.leaves import ROUTES
from service.escape.measuring import measure_effects
from service.escape.model import Outcome, estimate, estimates, run, with_records
from service.escape.origin import native_words
from service.escape.parameters import Parameters, default_parameters
from service.escape.records import already_here, lift
from service.escape.setting import UNMAPPED, Setting, setting
from service.escape.settling import settling
from service.escape.stages import (
    Strongest,
    arrives_stage,
    leaves_stage,
    records_factor,
    shared_factors,
    strongest,
    water_factors,
)
from service.escape.values import (
    AlreadyHere,
    Assessment,
    Estimate,
    Factor,
    PlannedMeasure,
    RouteChance,
    Stage,
    WaterAssessment,
    Winter,
)
from service.escape.wording import leaves_by_water, notes, paragraph
from service.values.evidence import Evidence
from service.values.plants import Plant, Range, Traits
from service.values.site import Climate, Place
from service.values.vocabulary import GrowthForm, Jurisdiction, PlantId, SpreadMode
from service.values.waters import Reached

_TYPICAL: tuple[tuple[GrowthForm, tuple[SpreadMode, ...]], ...] = (
    ("submerged", ("fragment",)),
    ("free-floating", ("offset",)),
    ("floating-leaved", ("rhizome", "seed")),
    ("emergent", ("rhizome", "seed")),
    ("wet-soil", ("seed",)),
)
"""What a plant may be of which only the name is known."""


def assess(
    plant: Plant,
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Evidence | None,
    *,
    state: Jurisdiction | None = None,
    containment: Sequence[PlannedMeasure] = (),
    well_known: Sequence[Plant] = (),
    parameters: Parameters | None = None,
) -> Assessment:
    """Would this plant get out of this place, to which of the waters, and found a lasting stand
    there, within ten years.

    Args:
        waters: none leaves an unmapped water at any distance.
        evidence: occurrence records around the place; None, or not loaded, leaves traits and
            climate alone.
        state: of the site; a plant native to it gets no class.
        containment: planned; lowers what leaves, and never raises anything.
        well_known: plants among which those to compare with are looked for.

    Raises:
        UnknownValue: the climate names no hardiness zone that exists.
        BadRequest: a quantity of the place, climate or waters is impossible.
    """
    records = {} if evidence is None else {plant.plant_id: evidence}
    return assess_many(
        [plant],
        place,
        climate,
        waters,
        records,
        state=state,
        containment=containment,
        well_known=well_known,
        parameters=parameters,
    )[0]


def assess_many(
    plants: Sequence[Plant],
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Mapping[PlantId, Evidence],
    *,
    state: Jurisdiction | None = None,
    containment: Sequence[PlannedMeasure] | Mapping[PlantId, Sequence[PlannedMeasure]] = (),
    well_known: Sequence[Plant] = (),
    parameters: Parameters | None = None,
) -> tuple[Assessment, ...]:
    """Assess several plants of one place, in the order given.

    Args:
        containment: for all of the plants, or by plant.
    """
    _check(place, climate, waters)
    there = setting(place, climate, waters, state, parameters or default_parameters())
    known = anchors(well_known, there)
    found = []
    for plant in plants:
        planned = (
            containment.get(plant.plant_id, ()) if isinstance(containment, Mapping) else containment
        )
        records = evidence.get(plant.plant_id)
        several, extremes = (
            [_assessed(form, there, tuple(planned), records, known) for form in forms]
            for forms in (_forms(plant), _extremes(plant))
        )
        found.append(widened(widest(several, there.parameters), extremes))
    return tuple(found)


def assess_widest(
    plants: Sequence[Plant],
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Mapping[PlantId, Evidence],
    *,
    state: Jurisdiction | None = None,
    containment: Sequence[PlannedMeasure] = (),
    well_known: Sequence[Plant] = (),
    parameters: Parameters | None = None,
) -> Assessment:
    """One assessment for a label that may mean any of several plants: every estimate covers all of
    them.

    ``likely``, factors, routes and paragraph are those of the plant that is likeliest to escape.

    Raises:
        BadRequest: no plant is given.
    """
    if not plants:
        raise BadRequest(
            "There is no plant to assess.",
            next_step="Give at least one plant that the label may mean.",
        )
    several = assess_many(
        plants,
        place,
        climate,
        waters,
        evidence,
        state=state,
        containment=containment,
        well_known=well_known,
        parameters=parameters,
    )
    if len(several) == 1:
        return several[0]
    found = widest(several, parameters or default_parameters())
    names = ", ".join(plant.accepted_name for plant in plants)
    return replace(
        found,
        paragraph=f"The label may mean any of {names}; the figures cover all of them, and the "
        f"words are those of the one that could go furthest. {found.paragraph}",
    )


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


def _forms(plant: Plant) -> list[Plant]:
    """The plant; or what it may be, where its form or its ways of spreading are not known."""
    traits = plant.traits
    if traits.growth_form is not None and traits.spread_modes:
        return [plant]
    return [
        replace(plant, traits=_completed(traits, form, modes))
        for form, modes in _TYPICAL
        if traits.growth_form in (None, form)
    ]


def _extremes(plant: Plant) -> list[Plant]:
    """Of a plant whose ways of spreading are not known: with none of them, and with all."""
    if plant.traits.spread_modes:
        return []
    every: tuple[SpreadMode, ...] = get_args(SpreadMode)
    return [
        replace(form, traits=replace(form.traits, spread_modes=modes))
        for form in _forms(plant)
        for modes in ((), every)
    ]


def _completed(traits: Traits, form: GrowthForm, modes: tuple[SpreadMode, ...]) -> Traits:
    return replace(traits, growth_form=form, spread_modes=traits.spread_modes or modes)


def _assessed(
    plant: Plant,
    base: Setting,
    measures: tuple[PlannedMeasure, ...],
    evidence: Evidence | None,
    known: Sequence[tuple[Plant, float]],
) -> Assessment:
    there = base.for_plant(plant.traits)
    native = native_words(plant, there.state)
    raised = 0.0 if native else lift(evidence, there.parameters)
    outcome = run(plant, there, measures, raised)
    overall = outcome.overall()
    whole, summer = estimates(
        np.stack((overall, outcome.overall(through_winter=False)), axis=1), there.draws
    )
    if raised:
        whole = with_records(whole, estimate(outcome.overall(raised), there.draws))
    here = already_here(evidence)
    cold = _winter(outcome)
    waters = _waters(outcome, measures, evidence, here)
    klass = None if native else escape_class(whole, there.parameters)
    reaches = None if native else class_reached(whole, there.parameters)
    deciding = () if native else settling(outcome, overall)
    beside = () if native else compared(plant, whole.likely, known)
    loaded = evidence is not None and evidence.loaded
    return Assessment(
        candidates=(plant.plant_id,),
        waters=waters,
        estimate=whole,
        escape_class=klass,
        reaches=reaches,
        native=native,
        winter=cold,
        this_summer=summer,
        deciding_unknowns=deciding,
        compared_with=beside,
        measures=measure_effects(plant, measures, there.parameters) if measures else (),
        already_here=here,
        paragraph=paragraph(
            plant,
            there,
            waters,
            whole,
            klass,
            reaches,
            native,
            cold,
            summer,
            beside,
            here,
            deciding,
        ),
        notes=notes(plant, there, loaded, _breaks_away(plant, there)),
        datasets=evidence.datasets if evidence is not None and evidence.loaded else (),
    )


def _breaks_away(plant: Plant, there: Setting) -> bool:
    traits = plant.traits
    pieces = traits.growth_form == "submerged" and "fragment" in traits.spread_modes
    return pieces and leaves_by_water(there)


def _winter(outcome: Outcome) -> Winter:
    rows = outcome.climatic.winter
    three = np.stack((rows.survives, rows.returns, rows.persists), axis=1)
    survives, returns, persists = (one.interval for one in estimates(three, outcome.setting.draws))
    limit = rows.limit_c
    return Winter(
        survives,
        returns,
        persists,
        site_cold(outcome.setting.climate).celsius,
        Range(float(limit.min()), float(limit.max())),
    )


def _waters(
    outcome: Outcome,
    measures: tuple[PlannedMeasure, ...],
    evidence: Evidence | None,
    here: AlreadyHere | None,
) -> tuple[WaterAssessment, ...]:
    there, draws, raised = outcome.setting, outcome.setting.draws, outcome.lift
    number = len(there.within)
    columns = [outcome.leaves[:, np.newaxis]]
    columns += [outcome.leaves_by[route][:, np.newaxis] for route in ROUTES]
    columns += [outcome.by_water(), outcome.arrives, outcome.persists()]
    columns += [outcome.arrives_by[route] for route in ROUTES]
    if raised:
        columns += [outcome.by_water(raised), outcome.persists(raised)]
    found = iter(estimates(np.concatenate(columns, axis=1), draws))
    leaves = next(found)
    leaves_by = [next(found) for _ in ROUTES]
    by_water, arrives, persists = ([next(found) for _ in range(number)] for _ in range(3))
    arrives_by = [[next(found) for _ in range(number)] for _ in ROUTES]
    rest = list(found)
    persists_plain = persists
    if raised:
        by_water = [with_records(a, b) for a, b in zip(by_water, rest[:number], strict=True)]
        persists = [with_records(a, b) for a, b in zip(persists, rest[number:], strict=True)]
    shared, most = shared_factors(outcome), strongest(outcome)
    of_kind: dict[tuple[object, ...], tuple[Factor, ...]] = {}
    stages: dict[bool, Stage] = {}
    answers = []
    for w in range(number):
        reached = there.waters[w] if there.waters else None
        water = reached.water if reached else None
        within = bool(there.within[w])
        if within not in stages:
            stages[within] = leaves_stage(outcome, leaves, measures, within=within)
        kind = (water.kind, water.flow) if water else (None, None)
        if kind not in of_kind:
            of_kind[kind] = water_factors(outcome, *kind)
        factors = [*shared, *of_kind[kind]]
        if raised and evidence is not None and here is not None:
            factors.append(records_factor(persists_plain[w], persists[w], here.words, evidence))
        answers.append(
            WaterAssessment(
                water_id=water.water_id if water else UNMAPPED,
                name=water.name if water else "a water that no map shows",
                relation=reached.relation if reached else "near",
                distance_m=_distance_m(reached),
                estimate=by_water[w],
                escape_class=escape_class(by_water[w], there.parameters),
                reaches=class_reached(by_water[w], there.parameters),
                leaves=stages[within],
                arrives=arrives_stage(outcome, w, arrives[w], most),
                persists=Stage(persists[w], by_weight(factors)),
                routes=_routes(w, leaves_by, arrives_by, most),
            )
        )
    return tuple(answers)


def _routes(
    w: int,
    leaves_by: Sequence[Estimate],
    arrives_by: Sequence[Sequence[Estimate]],
    most: Strongest,
) -> tuple[RouteChance, ...]:
    return tuple(
        RouteChance(route, leaves_by[r], arrives_by[r][w], most.propagule[route][w])
        for r, route in enumerate(ROUTES)
    )


def _distance_m(reached: Reached | None) -> float | None:
    if reached is None:
        return None
    downstream = reached.relation == "downstream" and reached.along_m is not None
    return reached.along_m if downstream else reached.overland_m
