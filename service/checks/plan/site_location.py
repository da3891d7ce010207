"""Where a site lies, for law and winter: what its user says goes before what the store finds."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from service.checks.plan.values import LonLat, PlanSite, Problem
from service.errors import BadRequest, UnknownValue
from service.geography.geodesy import inside
from service.geography.hardiness import parse_zone
from service.geography.place import BORDER_TOLERANCE_M, Location, is_zip
from service.store.geography import counties_touching, locate, locate_zip, states_near
from service.store.library import Library
from service.values.plants import Provenance
from service.values.seasons import days_before
from service.values.site import Climate, Locality
from service.values.vocabulary import JURISDICTION_NAMES, CountyFips, Jurisdiction

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
    near += [neighbour.state for neighbour in location.neighbours]
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
    neighbours = tuple(near_state for near_state in dict.fromkeys(near) if near_state != state)
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
            neighbour.state
            for neighbour in states_near(
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
