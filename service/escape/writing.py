"""An assessment written out from the figures: stages with their factors, routes, and words."""

from collections.abc import Sequence
from dataclasses import replace

from service.escape.classes import class_reached, escape_class
from service.escape.climate import site_cold
from service.escape.comparing import compared
from service.escape.deciding import deciding_facts
from service.escape.factors import by_weight
from service.escape.figures import Covering, Figures
from service.escape.leaves import ROUTES
from service.escape.measuring import measure_effects
from service.escape.model import Outcome
from service.escape.percentiles import as_estimates, percentiles
from service.escape.records import already_here
from service.escape.setting import UNMAPPED, UNMAPPED_NAME, Setting
from service.escape.spread import Strongest
from service.escape.stages import (
    arrives_stage,
    leaves_stage,
    records_factor,
    shared_factors,
    water_factors,
)
from service.escape.values import (
    AlreadyHere,
    Assessment,
    Estimate,
    RouteChance,
    Stage,
    WaterAssessment,
    Winter,
)
from service.escape.wording import leaves_by_water, notes, paragraph
from service.values.evidence import Dataset
from service.values.plants import Plant, Range


def write(
    figures: Figures, known: Sequence[tuple[Plant, float]], *, with_facts: bool = True
) -> Assessment:
    """The assessment of one plant, with its factors and words.

    Args:
        known: well-known plants with their likely chance here.
        with_facts: look for the facts that would decide it, a fourth of the work.
    """
    outcome, evidence, native = figures.outcome, figures.evidence, figures.native
    plant, there = outcome.plant, outcome.setting
    whole, summer = as_estimates(figures.whole)
    here = already_here(evidence)
    cold = _winter(outcome)
    waters = _waters(figures, here)
    klass = None if native else escape_class(whole, there.parameters)
    reaches = None if native else class_reached(whole, there.parameters)
    deciding = () if native or not with_facts else deciding_facts(outcome, figures.overall)
    beside = () if native else compared(plant, whole.likely, known)
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
        measures=measure_effects(plant, figures.measures, there.parameters)
        if figures.measures
        else (),
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
        notes=_notes(figures),
        datasets=_datasets(figures),
    )


def covered(one: Assessment, several: Figures | Covering) -> Assessment:
    """An assessment with every estimate covering all plants that may be meant."""
    if several.worst is several:
        return one
    whole, summer, leaves, *rest = as_estimates(several.all)
    number, parameters = len(one.waters), several.worst.outcome.setting.parameters
    by_water = zip(one.waters, *(rest[k * number :][:number] for k in range(3)), strict=True)
    native = one.escape_class is None
    every = several.every
    return replace(
        one,
        candidates=tuple(dict.fromkeys(figures.outcome.plant.plant_id for figures in every)),
        waters=tuple(
            replace(
                water,
                estimate=chance,
                escape_class=escape_class(chance, parameters),
                reaches=class_reached(chance, parameters),
                leaves=replace(
                    water.leaves,
                    estimate=water.leaves.estimate if water.relation == "contains" else leaves,
                ),
                arrives=replace(water.arrives, estimate=arrives),
                persists=replace(water.persists, estimate=persists),
            )
            for water, chance, arrives, persists in by_water
        ),
        estimate=whole,
        escape_class=None if native else escape_class(whole, parameters),
        reaches=None if native else class_reached(whole, parameters),
        this_summer=summer,
        notes=tuple(dict.fromkeys(note for figures in every for note in _notes(figures))),
        datasets=tuple(dict.fromkeys(data for figures in every for data in _datasets(figures))),
    )


def _notes(figures: Figures) -> tuple[str, ...]:
    plant, there, evidence = figures.outcome.plant, figures.outcome.setting, figures.evidence
    loaded = evidence is not None and evidence.loaded
    return notes(plant, there, loaded, _breaks_away(plant, there))


def _datasets(figures: Figures) -> tuple[Dataset, ...]:
    evidence = figures.evidence
    return evidence.datasets if evidence is not None and evidence.loaded else ()


def _breaks_away(plant: Plant, there: Setting) -> bool:
    traits = plant.traits
    pieces = traits.growth_form == "submerged" and "fragment" in traits.spread_modes
    return pieces and leaves_by_water(there)


def _winter(outcome: Outcome) -> Winter:
    rows = outcome.climatic.winter
    three = percentiles((rows.survives, rows.returns, rows.persists), outcome.setting.draws)
    survives, returns, persists = (one.interval for one in as_estimates(three))
    limit = rows.limit_c
    return Winter(
        survives,
        returns,
        persists,
        site_cold(outcome.setting.climate).celsius,
        Range(float(limit.min()), float(limit.max())),
    )


def _waters(figures: Figures, here: AlreadyHere | None) -> tuple[WaterAssessment, ...]:
    outcome, measures, evidence = figures.outcome, figures.measures, figures.evidence
    there, raised = outcome.setting, outcome.lift
    number = len(there.within)
    _, _, leaves, *rest = as_estimates(figures.all)
    by_water, arrives, persists = (rest[k * number :][:number] for k in range(3))
    persists_plain = as_estimates(figures.unlifted[:, 1 + 2 * number :]) if raised else persists
    shared = shared_factors(outcome)
    of_kind: dict[tuple[object, ...], Stage] = {}
    alike = ("arrives and routes", outcome.spread)
    comes = there.kept.of(alike, lambda: _arrives_and_routes(outcome, arrives))
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
            factors = [*shared, *water_factors(outcome, *kind)]
            if raised and evidence is not None and here is not None:
                factors.append(records_factor(persists_plain[w], persists[w], here.words, evidence))
            of_kind[kind] = Stage(persists[w], by_weight(factors))
        answers.append(
            WaterAssessment(
                water_id=water.water_id if water else UNMAPPED,
                name=water.name if water else UNMAPPED_NAME,
                relation=reached.relation if reached else "near",
                distance_m=reached.distance_m if reached else None,
                estimate=by_water[w],
                escape_class=escape_class(by_water[w], there.parameters),
                reaches=class_reached(by_water[w], there.parameters),
                leaves=stages[within],
                arrives=comes[w][0],
                persists=of_kind[kind],
                routes=comes[w][1],
            )
        )
    return tuple(answers)


def _arrives_and_routes(
    outcome: Outcome, arrives: Sequence[Estimate]
) -> list[tuple[Stage, tuple[RouteChance, ...]]]:
    """By water; the same for all plants that spread alike."""
    number, most = len(outcome.kinds), outcome.spread.strongest
    found = iter(as_estimates(outcome.spread.route_figures))
    leaves_by = [next(found) for _ in ROUTES]
    arrives_by = [[next(found) for _ in range(number)] for _ in ROUTES]
    return [
        (
            arrives_stage(outcome, w, arrives[w], most),
            _routes(w, leaves_by, arrives_by, most),
        )
        for w in range(number)
    ]


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
