"""The plan check: one plan against names, law, site, fit, escape and containment, as one answer.

answer = check_plan(library, read_plan(parse_json(content)), on=date(2026, 6, 1))
"""

from collections.abc import Callable
from datetime import date

import shapely
from shapely.geometry.base import BaseGeometry

from service.cautions import cautions_for, general_cautions
from service.cautions.general import STANDING_CAUTIONS
from service.checks.plan.alternatives import SubstituteDesk
from service.checks.plan.decisions import RANKING, confirmations, decisions
from service.checks.plan.located import Spot
from service.checks.plan.passing import shopping_list
from service.checks.plan.planting import Bench, answer_planting
from service.checks.plan.reachable import somewhere_in, waters_of
from service.checks.plan.request import DEFAULT_ACTS, Plan, PlannedPlace
from service.checks.plan.site import look_up
from service.checks.plan.sources import Ledger
from service.checks.plan.unsettled import unsettled
from service.checks.plan.values import PlaceAnswer, PlanAnswer, PlantingAnswer, SiteAnswer
from service.geography import BORDER_TOLERANCE_M
from service.geography.shapes import inside
from service.store.library import Library
from service.store.occurrences import EvidenceReader
from service.store.waters import read_water_geometry

Progress = Callable[[int, int], None]
"""Plantings answered, and all."""


def check_plan(
    library: Library,
    plan: Plan,
    *,
    on: date,
    explain: bool = False,
    border_tolerance_m: float = BORDER_TOLERANCE_M,
    progress: Progress | None = None,
) -> PlanAnswer:
    """Answer a plan. The same plan on the same store and day gives the same answer.

    Args:
        on: the day to answer for, where the plan names none.
        explain: work out what each chance of escape hangs on; slower.
    """
    day = plan.on or on
    ledger = Ledger()
    problems = list(plan.problems)
    assumptions: list[str] = []
    site = look_up(
        library,
        plan.site,
        _site_shape(plan),
        ledger,
        problems,
        border_tolerance_m=border_tolerance_m,
    )
    acts = plan.acts or DEFAULT_ACTS
    if plan.acts is None and any(planting.acts is None for planting in plan.plantings):
        assumptions.append(f"The plan names no acts: {', '.join(DEFAULT_ACTS)} are asked.")
    reader = EvidenceReader(library.build.connection)
    spots = {
        place.place.name: _spot(library, reader, place, site, assumptions) for place in plan.places
    }
    bench = Bench(
        library, site, day, acts, ledger, SubstituteDesk(library, site.region), explain, problems
    )
    resolutions = library.resolver.resolve_all([planting.label for planting in plan.plantings])
    answered: list[PlantingAnswer] = []
    for planting, resolution in zip(plan.plantings, resolutions, strict=True):
        answered.append(
            answer_planting(bench, planting, resolution, spots.get(planting.place or ""))
        )
        if progress is not None:
            progress(len(answered), len(plan.plantings))
    facts = unsettled(site, answered)
    return PlanAnswer(
        store_build=library.build_id,
        as_of=day,
        title=plan.title,
        prepared_for=plan.prepared_for,
        prepared_by=plan.prepared_by,
        note=plan.note,
        acts=acts,
        site=site,
        places=tuple(_place(place, spots[place.place.name]) for place in plan.places),
        plantings=tuple(answered),
        decisions=decisions(site, answered, facts),
        ranking=RANKING,
        shopping=shopping_list(answered, site.region),
        confirm=confirmations(answered),
        unsettled=facts,
        sources=ledger.sources(),
        problems=tuple(problems),
        assumptions=tuple(assumptions),
        cautions=(*STANDING_CAUTIONS, *(each.text for each in general_cautions())),
        methods=dict(ledger.methods),
    )


def _site_shape(plan: Plan) -> BaseGeometry | None:
    """That of the site, else that of its places, else that of its plantings together."""
    if plan.site.shape is not None:
        return plan.site.shape
    for parts in ([each.shape for each in plan.places], [each.shape for each in plan.plantings]):
        shapes = [shape for shape in parts if shape is not None]
        if shapes:
            together: BaseGeometry = shapely.union_all(shapes)
            return together
    return None


def _spot(
    library: Library,
    reader: EvidenceReader,
    place: PlannedPlace,
    site: SiteAnswer,
    assumptions: list[str],
) -> Spot:
    name = place.place.name
    shape = place.shape or site.shape
    found = waters_of(library.build.connection, shape)
    drawn = (
        place.shape is not None
        or (shape is not None and shape.geom_type == "Point")
        or place.place.kind == "stream"
    )
    if not drawn:
        found = somewhere_in(found)
        if shape is not None:
            assumptions.append(
                f"{name} has no geometry of its own: it may lie anywhere in the site, beside any water in it."
            )
    within = [
        each.water.name or f"an unnamed {each.water.kind}"
        for each in found.reached
        if each.relation == "contains"
    ]
    if within and place.place.kind != "stream":
        assumptions.append(
            f"{name} lies in {' and '.join(within)} as mapped: if that is {name} itself, the chance for it is that the plant takes there."
        )
    connection = library.build.connection
    shapes = tuple(
        (each.water.water_id, each.relation, read_water_geometry(connection, each.water.water_id))
        for each in found.reached
    )
    return Spot(
        reader,
        place.place,
        site.climate,
        inside(shape) if shape is not None else None,
        found.reached,
        shapes,
    )


def _place(place: PlannedPlace, spot: Spot) -> PlaceAnswer:
    return PlaceAnswer(
        place.place,
        place.pointer,
        place.shape,
        spot.position,
        spot.waters,
        cautions_for(place=place.place),
    )
