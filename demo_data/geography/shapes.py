"""Drawing invented courses and shores on a local plane in metres, and turning them into degrees.

Only addition, multiplication, square roots and sines are used, and positions are rounded to about a
centimetre, so that the same seed gives the same shapes everywhere.
"""

import math
import random
from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]
"""Metres east and north of the origin."""

ORIGIN_LONGITUDE, ORIGIN_LATITUDE = -84.25, 41.68
_METRES_PER_DEGREE_NORTH = 111_070.0
_METRES_PER_DEGREE_EAST = 111_320.0 * 0.74687  # cosine of the origin's latitude


def degrees(point: Point) -> Point:
    """Longitude and latitude, to seven decimals."""
    x, y = point
    longitude = round(ORIGIN_LONGITUDE + x / _METRES_PER_DEGREE_EAST, 7)
    return longitude, round(ORIGIN_LATITUDE + y / _METRES_PER_DEGREE_NORTH, 7)


def course(
    start: Point, end: Point, reaches: int, bend_m: float, chance: random.Random
) -> list[list[Point]]:
    """A winding line from start to end, in reaches of eight steps each; neighbours share their
    ends.
    """
    steps = reaches * 8
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    across = (-(end[1] - start[1]) / length, (end[0] - start[0]) / length)
    waves = [
        (chance.uniform(0.4, 1.0), chance.uniform(0, 2 * math.pi), turns)
        for turns in (1.5, 3.7, 9.1, 17.3)
    ]
    points = []
    for step in range(steps + 1):
        share = step / steps
        fade = min(1.0, 6 * share, 6 * (1 - share))
        offset = (
            bend_m
            * fade
            * sum(size * math.sin(phase + 2 * math.pi * n * share) / n for size, phase, n in waves)
        )
        jitter = bend_m * 0.03 * fade * chance.uniform(-1, 1)
        away = offset + jitter
        points.append(
            (
                start[0] + share * (end[0] - start[0]) + away * across[0],
                start[1] + share * (end[1] - start[1]) + away * across[1],
            )
        )
    points[0], points[-1] = start, end
    return [points[8 * number : 8 * number + 9] for number in range(reaches)]


def round_shore(centre: Point, radius_m: float, chance: random.Random) -> list[Point]:
    """A closed shore about a centre, between 0.8 and 1.2 of the radius away."""
    corners = []
    for number in range(28):
        angle = 2 * math.pi * number / 28
        away = radius_m * chance.uniform(0.8, 1.2)
        corners.append((centre[0] + away * math.cos(angle), centre[1] + away * math.sin(angle)))
    return [*corners, corners[0]]


def shore_along(line: Sequence[Point], half_width_m: float, end_width: float = 0.15) -> list[Point]:
    """A closed shore about a line: widest in the middle, ``end_width`` of that at the ends."""
    left, right = [], []
    for number, point in enumerate(line):
        share = number / (len(line) - 1)
        before, after = line[max(0, number - 1)], line[min(len(line) - 1, number + 1)]
        length = math.hypot(after[0] - before[0], after[1] - before[1])
        across = (-(after[1] - before[1]) / length, (after[0] - before[0]) / length)
        wide = half_width_m * (end_width + (1 - end_width) * math.sin(math.pi * share))
        left.append((point[0] + wide * across[0], point[1] + wide * across[1]))
        right.append((point[0] - wide * across[0], point[1] - wide * across[1]))
    return [*left, *reversed(right), left[0]]


def length_m(line: Sequence[Point]) -> float:
    return sum(math.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(line))


def area_m2(ring: Sequence[Point]) -> float:
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))) / 2
