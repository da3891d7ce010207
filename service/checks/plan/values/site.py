"""The site of a plan and its places, as stated and as found."""

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from service.cautions import Caution
from service.geography.place import Location
from service.geography.trace import Trace
from service.values.plants import Provenance
from service.values.site import Climate, Locality, Place, Reached
from service.values.vocabulary import Jurisdiction

LonLat = tuple[float, float]
"""WGS84 degrees, longitude first."""


@dataclass(frozen=True, slots=True)
class Problem:
    """A part of the document that could not be used. The rest is answered.

    Attributes:
        pointer: RFC 6901 JSON pointer, or ``row 4, column "depth_cm"`` of a table.
    """

    pointer: str
    detail: str
    next_step: str = ""


@dataclass(frozen=True, slots=True)
class PlanSite:
    """The site as stated.

    Attributes:
        shape: WGS84; None where only an address is given.
        county: name or FIPS code, not yet looked up.
    """

    shape: BaseGeometry | None = None
    state: Jurisdiction | None = None
    county: str | None = None
    zip_code: str | None = None
    hardiness_zone: str | None = None
    first_frost: str | None = None


@dataclass(frozen=True, slots=True)
class SiteFact:
    """One fact of the site, and how it is known.

    Attributes:
        key: ``state``, ``county``, ``zone``, ``watershed``, ``neighbours``, ``waters``,
            ``downstream``, ``downstream-states``, ``records``.
        title: of the fact, in words.
        text: what was found, or that it is not known.
        known: None where it is not known.
        would_narrow: the fact to give so that the answer gets narrower; empty where nothing is
            missing.
        sources: numbers of the sources, see ``sources``.
    """

    key: str
    title: str
    text: str
    known: Provenance | None
    would_narrow: str = ""
    sources: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanWater:
    """A water near the site or down the water from it.

    Attributes:
        reached: from the site; from a place of the plan the distances may differ.
        shape: WGS84, the whole water; None for one given by its distance alone.
    """

    reached: Reached
    shape: BaseGeometry | None
    sources: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SiteAnswer:
    """What is known of the site.

    Attributes:
        stated: as the document has it.
        position: longitude and latitude of a point on it; None where only an address was given.
        shape: as given, else that of its places or plantings together.
        location: all that the store says of the position or ZIP code.
        locality, climate: as law and winter look at it, the facts given by the user before those
            found.
        waters: near and downstream, the nearest along the water first.
        trace: down the flow network; None without a position.
        neighbours: states within the border tolerance, nearest first; answered as well.
        downstream_states: states down the water, in the order in which it comes to them; answered
            for release.
        region: of native ranges.
    """

    stated: PlanSite
    position: LonLat | None
    shape: BaseGeometry | None
    location: Location
    locality: Locality
    climate: Climate
    waters: tuple[PlanWater, ...]
    trace: Trace | None
    neighbours: tuple[Jurisdiction, ...]
    downstream_states: tuple[Jurisdiction, ...]
    region: str | None
    facts: tuple[SiteFact, ...]
    notes: tuple[str, ...] = ()

    def fact(self, key: str) -> SiteFact:
        """The fact of this key."""
        return next(fact for fact in self.facts if fact.key == key)


@dataclass(frozen=True, slots=True)
class PlaceAnswer:
    """A pond, stream or bog of the plan; None is what nobody has said.

    Attributes:
        pointer: to it in the document.
        shape: as given.
        position: a point on it, else that of the site.
        waters: as reached from it.
        outlet_at, overflow_at: points where water leaves, as given.
    """

    place: Place
    pointer: str
    shape: BaseGeometry | None
    position: LonLat | None
    waters: tuple[Reached, ...]
    cautions: tuple[Caution, ...]
    outlet_at: BaseGeometry | None = None
    overflow_at: BaseGeometry | None = None
