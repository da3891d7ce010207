"""Which waters a place can send a plant to: those it lies in, those down the water, those near
over land.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely.geometry.base import BaseGeometry

from service.checks.plan.request import GivenWater
from service.checks.plan.values import LonLat
from service.geography.geodesy import distance_m, inside, nearest_between
from service.geography.trace import Trace
from service.store.waters import has_flow, has_waters, waters_near, waters_near_area
from service.store.waters_flow import SNAP_WITHIN_M, reached_waters, trace_from
from service.values.site import Reached

NEAR_WITHIN_M = 5_000.0
"""Waters farther off over land are not looked at: common practice, no source."""
MOST_DOWNSTREAM = 10
"""Waters taken down the water, the nearest first; the states on the way are followed to the end
of the network.
"""
MOST_NEAR = 6

_NO_TRACE = Trace("downstream")


@dataclass(frozen=True, slots=True)
class WatersFound:
    """What was found around a place.

    Attributes:
        reached: those given in the request, then those it lies in, then down the water by distance
            along it, then near by distance over land.
        left_out: waters found and not taken, for being farther than the number taken.
        loaded, network: whether the store holds waters, and a flow network.
    """

    reached: tuple[Reached, ...]
    trace: Trace
    left_out: int
    loaded: bool
    network: bool


def waters_of(
    connection: sqlite3.Connection, shape: BaseGeometry | None, given: Sequence[GivenWater] = ()
) -> WatersFound:
    """The waters of a place or site: those given in the request, then those loaded around its
    shape.
    """
    stated = tuple(waters_given(given, shape))
    loaded, network = has_waters(connection), has_flow(connection)
    if shape is None or not loaded:
        return WatersFound(stated, _NO_TRACE, 0, loaded, network)
    position = inside(shape)
    trace = (
        trace_from(connection, *position, within_m=SNAP_WITHIN_M + _radius_m(shape, position))
        if network
        else _NO_TRACE
    )
    near = _near(connection, shape)
    within = [reached for reached in near if reached.relation == "contains"]
    known = {reached.water.water_id for reached in within}
    down = [
        reached
        for reached in reached_waters(connection, trace, *position)
        if reached.water.water_id not in known
    ]
    known |= {reached.water.water_id for reached in down}
    beside = [reached for reached in near if reached.water.water_id not in known]
    taken = (*stated, *within, *down[:MOST_DOWNSTREAM], *beside[:MOST_NEAR])
    left_out = len(stated) + len(within) + len(down) + len(beside) - len(taken)
    return WatersFound(taken, trace, left_out, loaded, network)


@dataclass(frozen=True, slots=True)
class WatersAround:
    """The waters of a site and of its places, those of one shape looked up once."""

    connection: sqlite3.Connection
    given: Sequence[GivenWater]
    _found: dict[bytes, WatersFound] = field(default_factory=dict)

    def of(self, shape: BaseGeometry | None) -> WatersFound:
        """As ``waters_of``."""
        key = b"" if shape is None else shape.wkb
        if key not in self._found:
            self._found[key] = waters_of(self.connection, shape, self.given)
        return self._found[key]


def waters_given(given: Sequence[GivenWater], shape: BaseGeometry | None) -> Iterator[Reached]:
    """The waters of the request as a place reaches them: by the distance stated, or by that to
    where they are drawn where it is less.
    """
    for water in given:
        overland_m = water.distance_m
        if water.shape is not None and shape is not None:
            drawn_m = nearest_between(shape, water.shape)[1].distance_m
            overland_m = drawn_m if overland_m is None else min(overland_m, drawn_m)
        if overland_m is None:
            continue
        if water.relation == "downstream":
            along_m = max(water.distance_m or 0.0, overland_m)
            yield Reached(water.water, "downstream", overland_m, along_m)
        else:
            yield Reached(water.water, "contains" if overland_m == 0 else "near", overland_m)


def somewhere_in(waters: WatersFound) -> WatersFound:
    """The same for a place that lies somewhere in the site, nobody has said where: beside each
    water that the site holds, not in it.
    """
    moved = tuple(
        replace(reached, relation="near", overland_m=0.0)
        if reached.relation == "contains"
        else reached
        for reached in waters.reached
    )
    return replace(waters, reached=moved)


def _near(connection: sqlite3.Connection, shape: BaseGeometry) -> tuple[Reached, ...]:
    if shape.geom_type == "Point":
        return waters_near(connection, *inside(shape), NEAR_WITHIN_M)
    return waters_near_area(connection, shape, NEAR_WITHIN_M)


def _radius_m(shape: BaseGeometry, position: LonLat) -> float:
    """From the position to the farthest corner."""
    if shape.geom_type == "Point":
        return 0.0
    corners = shapely.get_coordinates(shape.convex_hull)
    return max(
        distance_m(*position, float(longitude), float(latitude)) for longitude, latitude in corners
    )
