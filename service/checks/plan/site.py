"""The site of a plan: where it lies, what is known of it and how, and what giving a missing fact
would do.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from service.checks.plan.sources import SourceNumbers
from service.checks.plan.values import LonLat, PlanSite, PlanWater, Problem, SiteAnswer, SiteFact
from service.checks.plan.waters import NEAR_WITHIN_M, WatersAround, WatersFound
from service.errors import BadRequest, UnknownValue
from service.geography import BORDER_TOLERANCE_M, Location, parse_zone
from service.geography.place import is_zip
from service.geography.shapes import inside
from service.store.geography import counties_touching, locate, locate_zip, states_near
from service.store.library import Library
from service.store.occurrences import has_records
from service.store.waters import read_water_geometry
from service.values.plants import Provenance
from service.values.regions import region_of
from service.values.seasons import days_before
from service.values.site import Climate, Locality
from service.values.vocabulary import JURISDICTION_NAMES, CountyFips, Jurisdiction

GIVEN = "the request"
"""Where a water given in the request comes from."""

_USER = Provenance("user", "stated in the plan")
_CORNERS = 40
"""Corners of a site's outline at which the border tolerance is tried."""


@dataclass(frozen=True, slots=True)
class SiteLocation:
    """Where a site stands, for law and winter; the part that many sites of one screening need.

    Attributes:
        neighbours: other states that are answered as well.
    """

    position: LonLat | None
    location: Location
    locality: Locality
    climate: Climate
    neighbours: tuple[Jurisdiction, ...]
    state_known: Provenance | None
    county_known: Provenance | None
    notes: tuple[str, ...]


def locate_site(
    library: Library,
    site: PlanSite,
    shape: BaseGeometry | None,
    pointer: str,
    problems: list[Problem],
    *,
    border_tolerance_m: float = BORDER_TOLERANCE_M,
) -> SiteLocation:
    """Look up where a site stands. Facts of the user go before those found; where both differ, both
    states are answered.

    Args:
        shape: that of the site, or of its places together.
        problems: takes up facts that cannot be used.
    """
    notes: list[str] = []
    frost = _first_frost(site.first_frost, pointer, problems)
    location = _location(library, site, shape, border_tolerance_m, pointer, problems)
    state = site.state or location.state
    near = list(_neighbours(library, shape, border_tolerance_m)) if shape is not None else []
    near += [each.state for each in location.neighbours]
    if site.state and location.state and site.state != location.state:
        by = "its position lies" if shape is not None else "its ZIP code begins as those"
        notes.append(
            f"The plan says {JURISDICTION_NAMES[site.state]}, but {by} in "
            f"{JURISDICTION_NAMES[location.state]}: both are answered."
        )
        near.insert(0, location.state)
    fips, name, county_known = _county(
        library, site, location, shape, state, pointer, problems, notes
    )
    climate = replace(location.climate, first_frost=frost)
    neighbours = tuple(each for each in dict.fromkeys(near) if each != state)
    known = _USER if site.state else location.state_known
    position = inside(shape) if shape is not None else None
    return SiteLocation(
        position,
        location,
        Locality(state, fips, name),
        climate,
        neighbours,
        known,
        county_known,
        (*location.notes, *notes),
    )


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
    downstream = tuple(each.state for each in found.trace.states if each.state != state)
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


def _location(
    library: Library,
    site: PlanSite,
    shape: BaseGeometry | None,
    tolerance_m: float,
    pointer: str,
    problems: list[Problem],
) -> Location:
    connection = library.build.connection
    zone, zip_code = _zone(site, pointer, problems), _zip(site, pointer, problems)
    if shape is not None:
        return locate(
            connection, *inside(shape), border_tolerance_m=tolerance_m, zone=zone, zip_code=zip_code
        )
    if zip_code:
        return locate_zip(connection, zip_code, zone=zone)
    if zone:
        halves = (zone,) if zone[-1] in "ab" else (f"{zone}a", f"{zone}b")
        return Location(zones=halves, zone_known=_USER)
    return Location()


def _zone(site: PlanSite, pointer: str, problems: list[Problem]) -> str | None:
    if not site.hardiness_zone:
        return None
    try:
        return parse_zone(site.hardiness_zone)
    except BadRequest as error:
        problems.append(Problem(f"{pointer}/hardiness_zone", error.detail, error.next_step))
        return None


def _zip(site: PlanSite, pointer: str, problems: list[Problem]) -> str | None:
    if site.zip_code and not is_zip(site.zip_code):
        problems.append(
            Problem(
                f"{pointer}/zip",
                f"ZIP code {site.zip_code!r} is none.",
                "Use five digits, such as 43604.",
            )
        )
        return None
    return site.zip_code


def _neighbours(
    library: Library, shape: BaseGeometry, tolerance_m: float
) -> Iterable[Jurisdiction]:
    """States that the outline of a site touches or comes near to."""
    if shape.geom_type == "Point":
        return
    yield from (county.state for county in counties_touching(library.build.connection, shape))
    corners = shapely.get_coordinates(shape.convex_hull)
    for longitude, latitude in corners[:: max(1, len(corners) // _CORNERS)]:
        yield from (
            each.state
            for each in states_near(
                library.build.connection, float(longitude), float(latitude), tolerance_m
            )
        )


def _county(
    library: Library,
    site: PlanSite,
    location: Location,
    shape: BaseGeometry | None,
    state: Jurisdiction | None,
    pointer: str,
    problems: list[Problem],
    notes: list[str],
) -> tuple[CountyFips | None, str, Provenance | None]:
    """County, its name, how it is known. Several counties, or two that differ, leave it open."""
    found = [county for county in location.counties if county.state == state]
    if shape is not None and shape.geom_type != "Point":
        found = [
            county
            for county in counties_touching(library.build.connection, shape)
            if county.state == state
        ]
    if site.county and state:
        try:
            stated = library.counties.find(state, site.county)
        except UnknownValue as error:
            problems.append(Problem(f"{pointer}/county", error.detail, error.next_step))
        else:
            if found and stated not in found:
                notes.append(
                    f"The plan says {stated.full_name}, but the site lies in "
                    f"{found[0].full_name}: the county is left open."
                )
                return None, "", None
            return stated.fips, stated.full_name, _USER
    elif site.county:
        problems.append(
            Problem(
                f"{pointer}/county",
                "A county without its state cannot be looked up.",
                "State the state as well.",
            )
        )
    if len(found) == 1:
        return found[0].fips, found[0].full_name, location.county_known
    if len(found) > 1:
        notes.append(
            f"The site has a part in {' and '.join(county.full_name for county in found)}: "
            "the county is left open."
        )
    return None, "", None


def _first_frost(text: str | None, pointer: str, problems: list[Problem]) -> str | None:
    if text is None:
        return None
    try:
        return days_before(text, 0)
    except BadRequest as error:
        problems.append(Problem(f"{pointer}/first_frost", error.detail, error.next_step))
        return None


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
        ", ".join(JURISDICTION_NAMES[each] for each in found_at.neighbours)
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
    used = dict.fromkeys(each.water.source_id for each in found.reached)
    cited = tuple(number for source_id in used for number in _source(library, numbers, source_id))
    named = [each for each in found.reached if each.water.name]
    unnamed = len(found.reached) - len(named)
    listed = ", ".join(dict.fromkeys(each.water.name for each in named))
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
    states = ", ".join(JURISDICTION_NAMES[each] for each in downstream) or (
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
    return tuple(numbers.of_data(each) for each in library.sources if each.kind == kind)


def _source(library: Library, numbers: SourceNumbers, source_id: str) -> tuple[int, ...]:
    return tuple(numbers.of_data(each) for each in library.sources if each.source_id == source_id)
