"""The plan check: one plan against names, law, site, fit, escape and containment, as one answer.

answer = check_plan(library, read_plan(parse_json(content)), on=date(2026, 6, 1))
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import date

import shapely
from shapely.geometry.base import BaseGeometry

from service.cautions import cautions_for, general_cautions
from service.checks.plan.decisions import RANKING, confirmations, decisions
from service.checks.plan.doubts import doubtful, mended, spacing_grounds
from service.checks.plan.open_facts import open_facts
from service.checks.plan.place import PlaceContext
from service.checks.plan.planting import PlanContext, answer_planting, plants_of
from service.checks.plan.request import DEFAULT_ACTS, GivenWater, Plan, PlannedPlace
from service.checks.plan.site import GIVEN, describe_site, how_to_get_waters
from service.checks.plan.sources import SourceNumbers
from service.checks.plan.substitutes import SubstituteFinder
from service.checks.plan.values import PlaceAnswer, PlanAnswer, PlantingAnswer, SiteAnswer
from service.checks.plan.verdict import shopping_list
from service.checks.plan.waters import WatersAround, somewhere_in
from service.escape import WELL_KNOWN
from service.geography.geodesy import inside
from service.geography.place import BORDER_TOLERANCE_M
from service.regulation.coverage import confirm_with, standing_of
from service.store.library import Library
from service.store.occurrences import EvidenceReader, WaterShape
from service.store.waters import read_water_geometry
from service.values.plants import Plant
from service.values.site import Reached
from service.values.words import STANDING_CAUTIONS

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
    numbers = SourceNumbers()
    doubts = list(doubtful(plan))
    plan = mended(plan, doubts)
    problems = [*plan.problems, *(doubt.problem for doubt in doubts)]
    assumptions: list[str] = []
    around = WatersAround(library.build.connection, plan.waters)
    site = describe_site(
        library,
        plan.site,
        _site_shape(plan),
        around,
        numbers,
        problems,
        border_tolerance_m=border_tolerance_m,
    )
    acts = plan.acts or DEFAULT_ACTS
    if plan.acts is None and any(planting.acts is None for planting in plan.plantings):
        assumptions.append(f"The plan names no acts: {', '.join(DEFAULT_ACTS)} are asked.")
    assumptions += _gaps_of_law(library, site, day)
    if not site.waters:
        assumptions.append(how_to_get_waters(site.position))
    reader = EvidenceReader(library.build.connection)
    places = {
        place.place.name: _context(library, reader, place, site, around, assumptions)
        for place in plan.places
    }
    context = PlanContext(
        library, site, day, acts, numbers, SubstituteFinder(library, site, day), explain, problems
    )
    resolutions = library.resolver.resolve_all([planting.label for planting in plan.plantings])
    pairs = list(zip(plan.plantings, resolutions, strict=True))
    plants = {planting.number: plants_of(library, resolution) for planting, resolution in pairs}
    spacing = spacing_grounds(plan, plants)
    answered: list[PlantingAnswer] = []
    for planting, resolution in pairs:
        place = places.get(planting.place or "")
        grounds = spacing.get(planting.number, ())
        answered.append(answer_planting(context, planting, resolution, place, grounds))
        if progress is not None:
            progress(len(answered), len(plan.plantings))
    facts = open_facts(site, answered)
    return PlanAnswer(
        store_build=library.build_id,
        as_of=day,
        title=plan.title,
        prepared_for=plan.prepared_for,
        prepared_by=plan.prepared_by,
        note=plan.note,
        acts=acts,
        site=site,
        places=tuple(_place(place, places[place.place.name]) for place in plan.places),
        plantings=tuple(answered),
        decisions=decisions(answered, facts),
        ranking=RANKING,
        shopping=shopping_list(answered),
        confirm=confirmations(answered),
        unsettled=facts,
        sources=numbers.sources(),
        problems=tuple(problems),
        assumptions=tuple(assumptions),
        cautions=(*STANDING_CAUTIONS, *(caution.text for caution in general_cautions())),
        methods=dict(numbers.methods),
    )


def _gaps_of_law(library: Library, site: SiteAnswer, on: date) -> Iterator[str]:
    """Where the law loaded here is not complete, once for the whole plan."""
    states = (site.locality.state, *site.neighbours) if site.locality.state else ()
    for state in states:
        if state is None:
            continue
        standing = standing_of(library.law, state, on)
        if standing.coverage != "complete" or standing.truncated:
            whom = confirm_with(library.law, state, "plant").split("; ")[0]
            yield (
                f"{standing.phrase}. A plant that no list names here may still be listed: ask "
                f"{whom}."
            )


def _site_shape(plan: Plan) -> BaseGeometry | None:
    """That of the site, else that of its places, else that of its plantings together."""
    if plan.site.shape is not None:
        return plan.site.shape
    of_places = [place.shape for place in plan.places]
    of_plantings = [planting.shape for planting in plan.plantings]
    for parts in (of_places, of_plantings):
        shapes = [shape for shape in parts if shape is not None]
        if shapes:
            together: BaseGeometry = shapely.union_all(shapes)
            return together
    return None


def _context(
    library: Library,
    reader: EvidenceReader,
    place: PlannedPlace,
    site: SiteAnswer,
    around: WatersAround,
    assumptions: list[str],
) -> PlaceContext:
    name = place.place.name
    shape = place.shape or site.shape
    found = around.of(shape)
    drawn = (
        place.shape is not None
        or (shape is not None and shape.geom_type == "Point")
        or place.place.kind == "stream"
    )
    if not drawn:
        found = somewhere_in(found)
        if shape is not None:
            assumptions.append(
                f"{name} has no geometry of its own: it may lie anywhere in the site, "
                "beside any water in it."
            )
    within = [
        reached.water.name or f"an unnamed {reached.water.kind}"
        for reached in found.reached
        if reached.relation == "contains"
    ]
    if within and place.place.kind != "stream":
        assumptions.append(
            f"{name} lies in {' and '.join(within)} as mapped: if that is {name} itself, the "
            "chance for it is that the plant takes there."
        )
    return PlaceContext(
        reader,
        place.place,
        site.climate,
        inside(shape) if shape is not None else None,
        found.reached,
        site.locality.state,
        well_known(library),
        tuple(_shapes(library, found.reached, around.given)),
    )


def well_known(library: Library) -> tuple[Plant, ...]:
    """The plants of the library that every chance of escape is compared with."""
    return tuple(plant for plant in library.plants.values() if plant.accepted_name in WELL_KNOWN)


def _shapes(
    library: Library, reached: Sequence[Reached], given: Sequence[GivenWater]
) -> Iterator[WaterShape]:
    """Shapes of the waters whose records are counted; one given by its distance has none."""
    drawn = {water.water.water_id: water.shape for water in given}
    for water in reached:
        water_id = water.water.water_id
        if water.water.source_id != GIVEN:
            shape: BaseGeometry | None = read_water_geometry(library.build.connection, water_id)
        else:
            shape = drawn[water_id]
        if shape is not None:
            yield water_id, water.relation, shape


def _place(place: PlannedPlace, context: PlaceContext) -> PlaceAnswer:
    return PlaceAnswer(
        place.place,
        place.pointer,
        place.shape,
        context.position,
        context.waters,
        cautions_for(place=place.place),
        place.outlet_at,
        place.overflow_at,
    )
