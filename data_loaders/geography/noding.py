"""Downstream links from where lines end and begin, for data that state none."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from data_loaders.geography.lines import FlowLink, Line, Position
from service.geography.geodesy import distance_m, nearest_position

SNAP_M = 5.0
"""How far an end may lie from a beginning and still be joined to it: common practice, no source."""

_DEGREES_PER_METRE = 1 / 110_500.0


def cuts_needed(lines: Mapping[str, LineString], snap_m: float = SNAP_M) -> dict[str, list[float]]:
    """Where lines must be cut because another ends or begins on them: shares of their length in
    degrees, rising.
    """
    names = list(lines)
    tree = shapely.STRtree([lines[name] for name in names])
    cuts: defaultdict[str, list[float]] = defaultdict(list)
    for name in names:
        coordinates = shapely.get_coordinates(lines[name])
        for position in (coordinates[0], coordinates[-1]):
            for index in _near(tree, position, snap_m):
                other = names[index]
                if other == name:
                    continue
                line = lines[other]
                near = nearest_position(line, float(position[0]), float(position[1]))
                if near.distance_m > snap_m or _is_end(
                    line, (near.longitude, near.latitude), snap_m
                ):
                    continue
                share = float(
                    shapely.line_locate_point(
                        line, Point(near.longitude, near.latitude), normalized=True
                    )
                )
                if all(abs(share - cut) > 1e-9 for cut in cuts[other]):
                    cuts[other].append(share)
    return {name: sorted(shares) for name, shares in sorted(cuts.items()) if shares}


def cut_line(line: LineString, shares: Sequence[float]) -> list[LineString]:
    """The pieces of a line cut at shares of its length, in order."""
    limits = [0.0, *shares, 1.0]
    pieces = (substring(line, low, high, normalized=True) for low, high in pairwise(limits))
    return [piece for piece in pieces if isinstance(piece, LineString) and piece.length > 0]


def links_by_ends(lines: Sequence[Line], snap_m: float = SNAP_M) -> list[FlowLink]:
    """Each line that ends where another begins flows into it."""
    flowing = [line for line in lines if line.directed]
    if not flowing:
        return []
    tree = shapely.STRtree(shapely.points([line.start for line in flowing]))
    return [
        FlowLink(
            line.flowline_id,
            below.flowline_id,
            "end-points",
            line.source_id,
            main=below.divergence != 2,
        )
        for line in flowing
        for index in sorted(_near(tree, line.end, snap_m))
        for below in [flowing[index]]
        if below is not line and distance_m(*line.end, *below.start) <= snap_m
    ]


def links_across(
    lines: Sequence[Line],
    linked: Sequence[FlowLink],
    still_water_at: Callable[[Position], str | None],
) -> list[FlowLink]:
    """Links across still waters that no line runs through: from each line that ends in one to
    each that begins in it.
    """
    has_below = {link.from_id for link in linked}
    has_above = {link.to_id for link in linked}
    ending: defaultdict[str, list[Line]] = defaultdict(list)
    beginning: defaultdict[str, list[Line]] = defaultdict(list)
    for line in lines:
        if (
            line.directed
            and line.flowline_id not in has_below
            and (water := still_water_at(line.end))
        ):
            ending[water].append(line)
        if (
            line.directed
            and line.flowline_id not in has_above
            and (water := still_water_at(line.start))
        ):
            beginning[water].append(line)
    return [
        FlowLink(
            above.flowline_id,
            below.flowline_id,
            "across",
            above.source_id,
            gap_m=distance_m(*above.end, *below.start),
            through_id=water,
        )
        for water in sorted(ending)
        for above in ending[water]
        for below in beginning.get(water, ())
        if above is not below
    ]


def _near(tree: shapely.STRtree, position: Position | np.ndarray, snap_m: float) -> list[int]:
    longitude, latitude = float(position[0]), float(position[1])
    up = snap_m * _DEGREES_PER_METRE
    sideways = up / max(0.01, float(np.cos(np.radians(latitude))))
    window: BaseGeometry = shapely.box(
        longitude - sideways, latitude - up, longitude + sideways, latitude + up
    )
    return [int(index) for index in tree.query(window)]


def _is_end(line: LineString, position: Position, snap_m: float) -> bool:
    coordinates = shapely.get_coordinates(line)
    return any(
        distance_m(*position, float(end[0]), float(end[1])) <= snap_m
        for end in (coordinates[0], coordinates[-1])
    )
