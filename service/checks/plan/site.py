"""The site of a plan: where it lies, what is known of it and how, and what giving a missing fact
would do.
"""

from collections.abc import Iterable

from shapely.geometry.base import BaseGeometry

from service.checks.plan.site_location import SiteLocation, locate_site
from service.checks.plan.sources import SourceNumbers
from service.checks.plan.values import LonLat, PlanSite, PlanWater, Problem, SiteAnswer, SiteFact
from service.checks.plan.waters import NEAR_WITHIN_M, WatersAround, WatersFound
from service.geography.place import BORDER_TOLERANCE_M, Location
from service.store.library import Library
from service.store.occurrences import has_records
from service.store.waters import read_water_geometry
from service.values.nativity import region_of
from service.values.plants import Provenance
from service.values.vocabulary import JURISDICTION_NAMES, Jurisdiction

GIVEN = "the request"
"""Where a water given in the request comes from."""


def describe_site(
    library: Library,
    site: PlanSite,
    shape: BaseGeometry | None,
    around: WatersAround,
    numbers: SourceNumbers,
    problems: list[Problem],
    *,
    border_tolerance_m: float = BORDER_TOLERANCE_M,
) -> SiteAnswer:
    """All that is known of the site of a plan, with the waters that the plan gives."""
    found_at = locate_site(
        library, site, shape, "/site", problems, border_tolerance_m=border_tolerance_m
    )
    connection = library.build.connection
    found = around.of(shape)
    drawn = {given.water.water_id: given.shape for given in around.given}
    waters = tuple(
        PlanWater(
            reached,
            drawn[reached.water.water_id]
            if reached.water.water_id in drawn
            else read_water_geometry(connection, reached.water.water_id),
            _source(library, numbers, reached.water.source_id),
        )
        for reached in found.reached
    )
    state = found_at.locality.state
    downstream = tuple(crossed.state for crossed in found.trace.states if crossed.state != state)
    notes = list(found_at.notes)
    if found.left_out:
        notes.append(
            f"{found.left_out} waters farther off are left out; the states down the water are "
            "followed to the end of the network."
        )
    return SiteAnswer(
        stated=site,
        position=found_at.position,
        shape=shape,
        location=found_at.location,
        locality=found_at.locality,
        climate=found_at.climate,
        waters=waters,
        trace=found.trace if shape is not None else None,
        neighbours=found_at.neighbours,
        downstream_states=downstream,
        region=region_of(state) if state else None,
        facts=tuple(_facts(library, found_at, found, downstream, numbers, border_tolerance_m)),
        notes=tuple(notes),
    )


def _facts(
    library: Library,
    found_at: SiteLocation,
    found: WatersFound,
    downstream: tuple[Jurisdiction, ...],
    numbers: SourceNumbers,
    tolerance_m: float,
) -> Iterable[SiteFact]:
    state, location = found_at.locality.state, found_at.location
    lines = _by_kind(library, numbers, "boundaries") if found_at.position else ()
    yield SiteFact(
        "state",
        "State",
        JURISDICTION_NAMES[state] if state else "not known",
        found_at.state_known,
        "" if state else "A state, ZIP code or position: without one no law can be looked up.",
        lines,
    )
    yield SiteFact(
        "county",
        "County",
        found_at.locality.county_name or "not known",
        found_at.county_known,
        ""
        if found_at.locality.county
        else "The county: entries that hold in some counties only stay conditional without it.",
        lines if found_at.county_known and found_at.county_known.how_known == "measured" else (),
    )
    yield SiteFact(
        "neighbours",
        f"Other states within {tolerance_m / 1000:g} km",
        ", ".join(JURISDICTION_NAMES[neighbour] for neighbour in found_at.neighbours)
        or ("none" if found_at.position else "not known"),
        Provenance("measured", "loaded boundaries") if found_at.position else None,
        "" if found_at.position else "A position: a state line nearby is not seen without one.",
        lines,
    )
    yield SiteFact(
        "zone",
        "Hardiness zone",
        " or ".join(location.zones) or "not known",
        location.zone_known,
        ""
        if location.zones
        else (
            "The hardiness zone, a ZIP code or a position that a loaded zone map covers: winter "
            "decides what lives."
        ),
        _by_kind(library, numbers, "zones")
        if location.zone_known and location.zone_known.how_known != "user"
        else (),
    )
    yield _watershed(library, location, numbers)
    yield from _water_facts(library, found_at, found, downstream, numbers)
    records = has_records(library.build.connection)
    yield SiteFact(
        "records",
        "Plant records around it",
        "looked through" if records and found_at.position else "not looked through",
        Provenance("measured", "loaded occurrence records")
        if records and found_at.position
        else None,
        ""
        if records and found_at.position
        else (
            "A position: records are counted around one."
            if records
            else "Occurrence records: none are loaded in this store."
        ),
    )


def _watershed(library: Library, location: Location, numbers: SourceNumbers) -> SiteFact:
    watershed = location.watershed
    text = f"{watershed.name or 'unnamed'} ({watershed.watershed_id})" if watershed else "not known"
    narrow = "" if watershed else "A position inside loaded watershed polygons."
    return SiteFact(
        "watershed",
        "Watershed",
        text,
        location.watershed_known,
        narrow,
        _by_kind(library, numbers, "watersheds") if watershed else (),
    )


def _water_facts(
    library: Library,
    found_at: SiteLocation,
    found: WatersFound,
    downstream: tuple[Jurisdiction, ...],
    numbers: SourceNumbers,
) -> Iterable[SiteFact]:
    used = dict.fromkeys(water.water.source_id for water in found.reached)
    cited = tuple(number for source_id in used for number in _source(library, numbers, source_id))
    named = [water for water in found.reached if water.water.name]
    unnamed = len(found.reached) - len(named)
    listed = ", ".join(dict.fromkeys(water.water.name for water in named))
    text = "; ".join(
        part for part in (listed, f"{unnamed} without a name" if unnamed else "") if part
    )
    given = any(reached.water.source_id == GIVEN for reached in found.reached)
    looked = found.loaded and found_at.position is not None
    known = Provenance("measured", "loaded waters") if looked else None
    narrow = ""
    if given:
        known = known or Provenance("user", "given in the plan")
    elif not found.reached:
        narrow = how_to_get_waters(found_at.position)
    near = f"none within {NEAR_WITHIN_M / 1000:g} km" if looked else "not known"
    yield SiteFact(
        "waters",
        "Waters near and downstream",
        text or near,
        known,
        narrow if not known else "",
        cited,
    )
    followed = looked and found.network and bool(found.trace.starts)
    if followed:
        course, why = f"followed for {found.trace.length_m / 1000:,.0f} km down the water", ""
    elif looked and found.network:
        course, why = (
            "no loaded flowline is near",
            "Where its water goes: no loaded flowline is near enough to be taken as its drain.",
        )
    else:
        course, why = (
            "not known",
            "A flow network: only distance over land is known without one."
            if looked or given
            else narrow,
        )
    flow = Provenance("measured", "loaded flow network") if followed else None
    yield SiteFact(
        "downstream", "Course of the water", course, flow, why, cited if followed else ()
    )
    states = ", ".join(JURISDICTION_NAMES[state_below] for state_below in downstream) or (
        "none beyond its own" if followed else "not known"
    )
    yield SiteFact(
        "downstream-states", "States downstream", states, flow, why, cited if followed else ()
    )


def how_to_get_waters(position: LonLat | None) -> str:
    """One line on how to bring waters to a plan that has none."""
    at = f"{position[0]:.4f},{position[1]:.4f}" if position else "LON,LAT"
    return (
        f"No water is known near the site: `reedgate fetch waters --at {at}` brings them, "
        'or give "waters" in the plan.'
    )


def _by_kind(library: Library, numbers: SourceNumbers, kind: str) -> tuple[int, ...]:
    return tuple(numbers.of_data(source) for source in library.sources if source.kind == kind)


def _source(library: Library, numbers: SourceNumbers, source_id: str) -> tuple[int, ...]:
    return tuple(
        numbers.of_data(source) for source in library.sources if source.source_id == source_id
    )
