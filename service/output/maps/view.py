"""A small part of the earth on paper, and what every map has: paths, scale bars, north."""

from collections.abc import Iterable
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from service.geography.geodesy import Box, distance_m

INK, PAPER, PALE, GREY = "#15323b", "#ffffff", "#e4ecee", "#4a5c63"
_MILE_M, _FOOT_M = 1609.344, 0.3048

Place = tuple[float, float]
"""Millimetres on paper from the upper left corner."""


@dataclass(frozen=True, slots=True)
class View:
    """Longitude and latitude drawn straight, each to its own scale; true to a hundredth over some
    tens of kilometres.

    Attributes:
        longitude, latitude: of the middle, WGS84 degrees.
    """

    longitude: float
    latitude: float
    mm_per_m: float
    width_mm: float
    height_mm: float

    def xy(self, longitude: float, latitude: float) -> Place:
        east_m, north_m = (
            (longitude - self.longitude) * self._m_east,
            (latitude - self.latitude) * self._m_north,
        )
        return (
            self.width_mm / 2 + east_m * self.mm_per_m,
            self.height_mm / 2 - north_m * self.mm_per_m,
        )

    @property
    def _m_east(self) -> float:
        """Metres in a degree of longitude."""
        return (
            distance_m(self.longitude - 0.05, self.latitude, self.longitude + 0.05, self.latitude)
            * 10
        )

    @property
    def _m_north(self) -> float:
        """Metres in a degree of latitude."""
        return (
            distance_m(self.longitude, self.latitude - 0.05, self.longitude, self.latitude + 0.05)
            * 10
        )

    @property
    def box(self) -> Box:
        half_width = self.width_mm / 2 / self.mm_per_m / self._m_east
        half_height = self.height_mm / 2 / self.mm_per_m / self._m_north
        return Box(
            self.longitude - half_width,
            self.latitude - half_height,
            self.longitude + half_width,
            self.latitude + half_height,
        )

    @property
    def frame(self) -> BaseGeometry:
        """The box as a polygon."""
        return shapely.box(*self.bounds)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        box = self.box
        return box.west, box.south, box.east, box.north

    def path(self, shape: BaseGeometry, *, fill: str, weight: float, dash: str = "") -> str:
        """Lines and polygons as one SVG path."""
        steps = []
        for part in shapely.get_parts(shape):
            rings = [part.exterior, *part.interiors] if part.geom_type == "Polygon" else [part]
            for ring in rings:
                if ring.is_empty or ring.geom_type == "Point":
                    continue
                places = [
                    self.xy(longitude, latitude)
                    for longitude, latitude in shapely.get_coordinates(ring)
                ]
                steps.append(
                    "M"
                    + "L".join(f"{x:.2f} {y:.2f}" for x, y in places)
                    + ("Z" if part.geom_type == "Polygon" else "")
                )
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return (
            f'<path d="{"".join(steps)}" fill="{fill}" fill-rule="evenodd" stroke="{INK}" stroke-width="{weight:g}" '
            f'stroke-linejoin="round" stroke-linecap="round"{dashed}/>'
        )

    def furniture(self) -> Iterable[str]:
        """Scale bars in both unit systems, and north."""
        bars = [_bar(self.mm_per_m, _METRIC), _bar(self.mm_per_m, _CUSTOMARY)]
        y = self.height_mm - 4.0
        widest = max(length for length, _ in bars)
        yield f'<rect x="1.4" y="{y - 7.4:.1f}" width="{widest + 19:.1f}" height="10" fill="{PAPER}" stroke="{INK}" stroke-width=".25"/>'
        for row, (length, words) in enumerate(bars):
            at = y - 4.8 + row * 4.6
            yield f'<path d="M3.4 {at - 0.9:.1f}v1.8h{length:.2f}v-1.8" fill="none" stroke="{INK}" stroke-width=".5"/>'
            yield f'<text x="{5 + length:.2f}" y="{at + 1:.1f}" font-size="2.8" fill="{INK}">{words}</text>'
        x = self.width_mm - 6.5
        yield (
            f'<rect x="{x - 4.4:g}" y="2" width="8.8" height="13.4" fill="{PAPER}" stroke="{INK}" stroke-width=".25"/>'
            f'<path d="M{x:g} 3.4 l2 6.4 -2 -1.5 -2 1.5z" fill="{INK}"/>'
            f'<text x="{x:g}" y="13.8" font-size="3.3" font-weight="bold" text-anchor="middle" fill="{INK}">N</text>'
        )


_METRIC = {
    step * 10.0**power: (
        f"{step * 10**power:,} m" if power < 3 else f"{step * 10 ** (power - 3)} km"
    )
    for power in range(6)
    for step in (1, 2, 5)
}
_CUSTOMARY = {feet * _FOOT_M: f"{feet} ft" for feet in (5, 10, 20, 50, 100, 200, 500)} | {
    length * _MILE_M: words
    for length, words in (
        (0.25, "1/4 mi"),
        (0.5, "1/2 mi"),
        (1, "1 mi"),
        (2, "2 mi"),
        (5, "5 mi"),
        (10, "10 mi"),
    )
}


def _bar(mm_per_m: float, steps: dict[float, str]) -> tuple[float, str]:
    """Length on paper and words of the longest round length under 26 mm."""
    length_m = max((step for step in steps if step * mm_per_m <= 26), default=min(steps))
    return length_m * mm_per_m, steps[length_m]
