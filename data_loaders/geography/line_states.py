"""Which states a water lies in, and where along a flowline each one begins and ends."""

from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from data_loaders.build import Draft
from service.geography.geodesy import distance_m, nearest_position
from service.geography.trace import StateStretch
from service.values.vocabulary import Jurisdiction

BESIDE_M = 250.0
"""A line this near to another state may be the state line itself: the packaged borders are true
to about 100 m.
"""
STEP_M = 100.0

_DEGREES_PER_METRE = 1 / 110_500.0


class StateMap:
    """The outlines of the states of a draft, ready to be asked often."""

    def __init__(self, draft: Draft) -> None:
        rows = draft.connection.execute(
            "SELECT state, geometry FROM boundary WHERE fips IS NULL ORDER BY state"
        ).fetchall()
        self._states = [Jurisdiction(row[0]) for row in rows]
        self._outlines = [shapely.from_wkb(row[1]) for row in rows]
        shapely.prepare(self._outlines)
        self._tree = shapely.STRtree(self._outlines)

    def touching(self, geometry: BaseGeometry) -> list[Jurisdiction]:
        """The states that a geometry has a part in, in order."""
        return sorted(
            self._states[index] for index in self._tree.query(geometry, predicate="intersects")
        )

    def along(self, line: LineString, length_m: float) -> list[StateStretch]:
        """The stretches of a line, by where they begin and by state."""
        near = self._near(line)
        if len(near) == 1 and self._outlines[near[0]].contains(line):
            return [StateStretch(0.0, length_m, self._states[near[0]], beside=False)]
        if not near:
            return []
        return self._stretches(line, near)

    def _near(self, line: LineString) -> list[int]:
        """Indices of the states in whose outline, or within ``BESIDE_M`` of it, the line has a
        part.
        """
        return sorted(
            int(index)
            for index in self._tree.query(line, predicate="dwithin", distance=_reach(line))
        )

    def _stretches(self, line: LineString, near: list[int]) -> list[StateStretch]:
        samples = _samples(line)
        found: list[StateStretch] = []
        west, south, east, north = shapely.buffer(
            shapely.box(*line.bounds), 2 * _reach(line), join_style="mitre"
        ).bounds
        for index in near:
            # Of an outline of thousands of vertices only those about the line matter.
            outline, state = (
                shapely.clip_by_rect(self._outlines[index], west, south, east, north),
                self._states[index],
            )
            standing = [_standing(outline, position) for position, _ in samples]
            begin = 0
            for number in range(1, len(samples) + 1):
                if number < len(samples) and standing[number] == standing[begin]:
                    continue
                if standing[begin] is not None:
                    from_m = (
                        samples[begin][1]
                        if begin == 0
                        else (samples[begin - 1][1] + samples[begin][1]) / 2
                    )
                    last = number == len(samples)
                    to_m = (
                        samples[-1][1]
                        if last
                        else (samples[number - 1][1] + samples[number][1]) / 2
                    )
                    found.append(StateStretch(from_m, to_m, state, beside=bool(standing[begin])))
                begin = number
        return sorted(found, key=lambda stretch: (stretch.from_m, stretch.state))


def _reach(line: LineString) -> float:
    """``BESIDE_M`` in degrees, of longitude where that is more."""
    poleward = float(np.abs(shapely.get_coordinates(line)[:, 1]).max())
    return BESIDE_M * _DEGREES_PER_METRE / max(0.01, float(np.cos(np.radians(poleward))))


def _standing(outline: BaseGeometry, position: tuple[float, float]) -> bool | None:
    """False inside, True beside, None away."""
    if outline.is_empty:
        return None
    if outline.intersects(Point(position)):
        return False
    return True if nearest_position(outline, *position).distance_m <= BESIDE_M else None


def _samples(line: LineString) -> list[tuple[tuple[float, float], float]]:
    """Positions along a line at most ``STEP_M`` apart, each with its distance from the start."""
    fine = shapely.get_coordinates(shapely.segmentize(line, STEP_M * _DEGREES_PER_METRE))
    walked = 0.0
    samples = [((float(fine[0][0]), float(fine[0][1])), 0.0)]
    for (lon_1, lat_1), (lon_2, lat_2) in pairwise(fine):
        walked += distance_m(lon_1, lat_1, lon_2, lat_2)
        samples.append(((float(lon_2), float(lat_2)), walked))
    return samples
