"""Maps to pick a place on: the states, the counties of a state, a county with its loaded waters.
Every place is a link, so they work by keyboard and without script; the same choice stands in a list
beside them.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

import numpy as np
import shapely
from markupsafe import Markup, escape
from numpy.typing import NDArray
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

from service.geography import County
from service.values.vocabulary import JURISDICTION_NAMES, CountyFips, Jurisdiction

_Projection = Callable[[NDArray[np.float64]], NDArray[np.float64]]

_WIDTH, _HEIGHT = 640.0, 430.0
_LOWER = "+proj=aea +lat_1=29.5 +lat_2=45.5 +lat_0=37.5 +lon_0=-96 +datum=WGS84"
_ALASKA = "+proj=aea +lat_1=55 +lat_2=65 +lat_0=50 +lon_0=-154 +datum=WGS84"
_HAWAII = "+proj=aea +lat_1=8 +lat_2=18 +lat_0=13 +lon_0=-157 +datum=WGS84"
"""Albers equal-area, with the parameters usual for each part of the country."""
_BESIDE = tuple(
    Jurisdiction(f"US-{letters}")
    for letters in ("VT", "NH", "MA", "RI", "CT", "NJ", "DE", "MD", "DC")
)
"""Too small to hit on the map: each has a box in the sea beside it."""
_STATE_STEP_DEG, _COUNTY_SHARE = 0.06, 0.002
"""How far lines may move: in degrees on the map of states, as a share of its width on that of a
state.
"""
_LEAST_AREA = 1.5
"""Islands below so many square pixels are left out of the map of states."""

Link = Callable[[Mapping[str, str]], str]


def page_link(values: Mapping[str, str]) -> str:
    """The page with a place chosen."""
    return f"/?{urlencode(values)}#where"


def states_map(
    outlines: Mapping[Jurisdiction, BaseGeometry], chosen: Jurisdiction | None = None
) -> Markup:
    """The states, each a link that chooses it."""
    outlines = {state: _near_isles(shape, state) for state, shape in outlines.items()}
    names = list(outlines)
    thinned = dict(
        zip(names, shapely.coverage_simplify(list(outlines.values()), _STATE_STEP_DEG), strict=True)
    )
    lower = {state: shape for state, shape in thinned.items() if state not in ("US-AK", "US-HI")}
    parts: list[str] = []
    placed = [
        *_placed(lower, _LOWER, (6.0, 6.0, 570.0, 372.0)),
        *_placed(
            {state: thinned[state] for state in names if state == "US-AK"},
            _ALASKA,
            (6.0, 318.0, 130.0, 104.0),
        ),
        *_placed(
            {state: thinned[state] for state in names if state == "US-HI"},
            _HAWAII,
            (146.0, 372.0, 90.0, 50.0),
        ),
    ]
    for state, path, (x, y), area in placed:
        mark = " is-chosen" if state == chosen else ""
        if state in _BESIDE:
            parts.append(f'<path class="place beside{mark}" d="{path}"/>')
        else:
            letters = state.removeprefix("US-")
            label = (
                f'<text x="{x:.0f}" y="{y + 4:.0f}" aria-hidden="true">{letters}</text>'
                if area > 300 or state == "US-HI"
                else ""
            )
            parts.append(
                _anchor({"state": state}, _named(state), f'<path d="{path}"/>{label}', mark)
            )
    for row, state in enumerate(_BESIDE):
        mark = " is-chosen" if state == chosen else ""
        y = 92 + row * 28
        letters = state.removeprefix("US-")
        body = f'<rect x="592" y="{y}" width="42" height="25"/><text x="613" y="{y + 17}" aria-hidden="true">{letters}</text>'
        parts.append(_anchor({"state": state}, _named(state), body, mark))
    return _svg(
        _WIDTH,
        _HEIGHT,
        "states",
        "The states, each a link that chooses it; the list of states beside the map does the same.",
        parts,
    )


def _named(state: Jurisdiction) -> str:
    """The letters that stand on the map, so that who speaks to the page may say what they see,
    and its name.
    """
    return f"{state.removeprefix('US-')}, {JURISDICTION_NAMES[state]}"


def counties_map(
    state: Jurisdiction,
    outlines: Mapping[CountyFips, BaseGeometry],
    counties: Iterable[County],
    chosen: CountyFips | None,
) -> Markup:
    """The counties of a state, each a link that chooses it."""
    outlines = {
        fips: near
        for fips, shape in outlines.items()
        if not (near := _near_isles(shape, state)).is_empty
    }
    frame = _fitted(shapely.GeometryCollection(list(outlines.values())), state)
    step = frame.degrees_wide * _COUNTY_SHARE
    thinned = dict(
        zip(outlines, shapely.coverage_simplify(list(outlines.values()), step), strict=True)
    )
    parts = []
    for county in counties:
        if county.fips in thinned:
            mark = " is-chosen" if county.fips == chosen else ""
            path = _path(frame.turned(thinned[county.fips], state))
            parts.append(
                _anchor(
                    {"state": state, "county": county.fips},
                    county.full_name,
                    f'<path d="{path}"/>',
                    mark,
                )
            )
    words = f"The counties of {JURISDICTION_NAMES[state]}, each a link that chooses it; the list of counties beside the map does the same."
    return _svg(frame.width, frame.height, "counties", words, parts)


def county_map(
    county: County, outline: BaseGeometry, waters: Iterable[tuple[str, BaseGeometry]]
) -> Markup:
    """One county with the waters loaded in it.

    A script takes a press on it for the position of the site.
    """
    frame = _fitted(outline, county.state)
    step = frame.degrees_wide * _COUNTY_SHARE / 2
    parts = [
        f'<path class="ground" d="{_path(frame.turned(shapely.simplify(outline, step), county.state))}"/>'
    ]
    for name, shape in waters:
        clipped = shapely.simplify(
            shapely.intersection(shapely.make_valid(shape), shapely.box(*outline.bounds)), step / 4
        )
        title = f"<title>{escape(name)}</title>" if name else ""
        kind = "water" if clipped.geom_type.endswith("Polygon") else "stream"
        parts.append(
            f'<path class="{kind}" d="{_path(frame.turned(clipped, county.state), closed=kind == "water")}">{title}</path>'
        )
    data = (
        f' data-west="{frame.west:.6f}" data-north="{frame.north:.6f}" data-east-per-unit="{1 / frame.x_per_degree:.9f}" '
        f'data-north-per-unit="{1 / frame.y_per_degree:.9f}"'
    )
    words = f"{county.full_name} with the waters loaded here. The position may be typed instead, as longitude and latitude."
    return _svg(frame.width, frame.height, "county", words, parts, data)


def _placed(
    shapes: Mapping[Jurisdiction, BaseGeometry],
    projection: str,
    box: tuple[float, float, float, float],
) -> list[tuple[Jurisdiction, str, tuple[float, float], float]]:
    """Each shape as a path in a box of the sheet, with a place for its label and its area in
    square pixels.
    """
    if not shapes:
        return []
    transformer = Transformer.from_crs("EPSG:4326", projection, always_xy=True)

    def project(positions: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(transformer.transform(positions[:, 0], positions[:, 1]))

    flat = {state: shapely.transform(shape, project) for state, shape in shapes.items()}
    west, south, east, north = shapely.total_bounds(list(flat.values()))
    left, top, width, height = box
    scale = min(width / (east - west), height / (north - south))

    def to_sheet(positions: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(
            (left + (positions[:, 0] - west) * scale, top + (north - positions[:, 1]) * scale)
        )

    placed = []
    for state, shape in flat.items():
        parts = shapely.get_parts(shapely.transform(shape, to_sheet))
        large = [part for part in parts if part.area >= _LEAST_AREA] or [
            max(parts, key=lambda part: part.area)
        ]
        at = max(large, key=lambda part: part.area).representative_point()
        placed.append(
            (
                state,
                _path(shapely.MultiPolygon(large)),
                (at.x, at.y),
                sum(part.area for part in large),
            )
        )
    return placed


@dataclass(frozen=True, slots=True)
class _Frame:
    """Straight longitude and latitude on the sheet, true to scale at the middle."""

    west: float
    north: float
    degrees_wide: float
    x_per_degree: float
    y_per_degree: float
    width: float
    height: float

    def turned(self, shape: BaseGeometry, state: Jurisdiction) -> BaseGeometry:
        def to_sheet(positions: NDArray[np.float64]) -> NDArray[np.float64]:
            east = _unrolled(positions[:, 0], state) - self.west
            return np.column_stack(
                (
                    4 + east * self.x_per_degree,
                    4 + (self.north - positions[:, 1]) * self.y_per_degree,
                )
            )

        return shapely.transform(shape, to_sheet)


def _unrolled(longitudes: NDArray[np.float64], state: Jurisdiction) -> NDArray[np.float64]:
    """Alaska reaches over the antimeridian: its far islands are drawn west of the rest."""
    return (
        np.where(longitudes > 0, longitudes - 360, longitudes) if state == "US-AK" else longitudes
    )


def _near_isles(shape: BaseGeometry, state: Jurisdiction) -> BaseGeometry:
    """Hawaii without its chain of islets far to the northwest, which would make the rest too
    small.
    """
    return (
        shapely.intersection(shape, shapely.box(-160.7, 18.5, -154.5, 22.6))
        if state == "US-HI"
        else shape
    )


def _fitted(area: BaseGeometry, state: Jurisdiction) -> _Frame:
    positions = shapely.get_coordinates(area)
    longitudes = _unrolled(positions[:, 0], state)
    west, east = float(longitudes.min()), float(longitudes.max())
    south, north = float(positions[:, 1].min()), float(positions[:, 1].max())
    squeeze = float(np.cos(np.radians((south + north) / 2)))
    per_degree = min((_WIDTH - 8) / ((east - west) * squeeze), (_HEIGHT - 8) / (north - south))
    width, height = 8 + (east - west) * per_degree * squeeze, 8 + (north - south) * per_degree
    return _Frame(west, north, east - west, per_degree * squeeze, per_degree, width, height)


def _path(shape: BaseGeometry, *, closed: bool = True) -> str:
    """A path in tenths of a pixel, by steps."""
    steps = []
    for part in shapely.get_parts(shape):
        rings = (
            [part.exterior, *part.interiors]
            if part.geom_type == "Polygon"
            else [part]
            if part.geom_type == "LineString"
            else []
        )
        for ring in rings:
            if ring.is_empty:
                continue
            places = np.round(shapely.get_coordinates(ring) * 10).astype(int)
            moves = np.diff(places, axis=0)
            moves = moves[(moves != 0).any(axis=1)]
            start = places[0]
            line = "".join(f"l{_tenth(x)} {_tenth(y)}" for x, y in moves)
            steps.append(f"M{_tenth(start[0])} {_tenth(start[1])}{line}{'Z' if closed else ''}")
    return "".join(steps)


def _tenth(value: int) -> str:
    return f"{value / 10:g}"


def _anchor(values: Mapping[str, str], name: str, body: str, mark: str) -> str:
    chosen = ' aria-current="true"' if mark else ""
    data = " ".join(f'data-{key}="{escape(value)}"' for key, value in values.items())
    link, named = escape(page_link(values)), escape(name)
    # A place that bears its letters needs no words on hovering.
    title = "" if "<text" in body else f"<title>{named}</title>"
    return f'<a class="place{mark}" href="{link}" aria-label="{named}" {data}{chosen}>{title}{body}</a>'


def _svg(
    width: float, height: float, kind: str, words: str, parts: Iterable[str], data: str = ""
) -> Markup:
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="picker is-{kind}" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'role="group" aria-label="{escape(words)}"{data}>{"".join(parts)}</svg>'
    )
