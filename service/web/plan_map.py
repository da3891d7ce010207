"""The map of a plan as SVG, from the answer and loaded boundaries alone: site, places, waters, state line, scale, north.

Legible without colour: still waters are a pale ground with a shore line, wetlands are tufted, running water that the site drains to is a
heavy line and other running water a thin one, the state line is dashes and dots, the site a dashed outline or a cross.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase

import shapely
from markupsafe import Markup, escape
from shapely.geometry.base import BaseGeometry

from service.geography.geodesy import Box, distance_m, nearest_position
from service.screening.plan_values import LonLat, PlanAnswer, PlanWater
from service.vocabulary import JURISDICTION_NAMES, Jurisdiction
from service.web.words import relation, water_name

_INK, _PAPER, _PALE, _GREY = "#15323b", "#ffffff", "#e4ecee", "#5a6b71"
_WIDTH_MM, _HEIGHT_MM = 176.0, 104.0
_MILE_M = 1609.344
_NEAREST_M, _FARTHEST_M = 400.0, 15_000.0
"""How far north and south of the site the map reaches at least and at most."""

Outlines = Mapping[Jurisdiction, BaseGeometry]


@dataclass(frozen=True, slots=True)
class KeyedWater:
    """A water with the letter it bears on the map."""

    key: str
    water: PlanWater
    on_map: bool


@dataclass(frozen=True, slots=True)
class PlanMap:
    """The map and what its letters mean."""

    svg: Markup
    waters: tuple[KeyedWater, ...]
    words: str


@dataclass(frozen=True, slots=True)
class _View:
    """A small part of the earth on paper: longitude and latitude straight, each to its own scale."""

    longitude: float
    latitude: float
    mm_per_m: float

    def xy(self, longitude: float, latitude: float) -> tuple[float, float]:
        east_m = (longitude - self.longitude) * self._metres_east
        north_m = (latitude - self.latitude) * _metres_north()
        return _WIDTH_MM / 2 + east_m * self.mm_per_m, _HEIGHT_MM / 2 - north_m * self.mm_per_m

    @property
    def _metres_east(self) -> float:
        return distance_m(self.longitude - 0.05, self.latitude, self.longitude + 0.05, self.latitude) * 10

    @property
    def box(self) -> Box:
        half_width = _WIDTH_MM / 2 / self.mm_per_m / self._metres_east
        half_height = _HEIGHT_MM / 2 / self.mm_per_m / _metres_north()
        return Box(self.longitude - half_width, self.latitude - half_height, self.longitude + half_width, self.latitude + half_height)


def _metres_north() -> float:
    return 111_132.0


def map_box(answer: PlanAnswer) -> Box | None:
    """The widest box that the map may show; None where the site has no position."""
    position = answer.site.position
    return _View(*position, (_HEIGHT_MM / 2 - 6) / _FARTHEST_M).box if position else None


def plan_map(answer: PlanAnswer, states: Outlines) -> PlanMap | None:
    """The map; None where the site has no position.

    Args:
        states: the part of each state in ``map_box``.
    """
    view = _view(answer, states)
    if view is None:
        return None
    frame = shapely.box(view.box.west, view.box.south, view.box.east, view.box.north)
    waters = _keyed(answer.site.waters, frame)
    body = [
        *_states(view, states),
        *(part for keyed in waters for part in _water(view, keyed, frame)),
        *_site(view, answer),
        *_keys(view, waters, frame, answer.site.position),
        *_furniture(view),
    ]
    words = _words(answer, waters, states)
    svg = Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH_MM:g} {_HEIGHT_MM:g}" width="{_WIDTH_MM:g}mm" '
        f'height="{_HEIGHT_MM:g}mm" role="img" aria-labelledby="map-title map-desc">'
        f'<title id="map-title">Map of the site and its waters</title><desc id="map-desc">{escape(words)}</desc>'
        f'{_DEFS}<g clip-path="url(#map-frame)">{"".join(body)}</g>'
        f'<rect x=".2" y=".2" width="{_WIDTH_MM - 0.4:g}" height="{_HEIGHT_MM - 0.4:g}" fill="none" stroke="{_INK}" '
        'stroke-width=".4"/></svg>'
    )
    return PlanMap(svg, waters, words)


def _view(answer: PlanAnswer, states: Outlines) -> _View | None:
    """Wide enough for the nearest waters, the corners of the plan, and the state line where it is near."""
    position = answer.site.position
    if position is None:
        return None
    others = [shape for state, shape in states.items() if state != answer.site.locality.state]
    line_m = min((nearest_position(shape, *position).distance_m * 1.25 for shape in others), default=0.0)
    reach_m = max([each.reached.overland_m * 1.2 for each in answer.site.waters[:6]], default=0.0)
    reach_m = min(max(reach_m, line_m, _NEAREST_M, *(distance_m(*position, *point) * 1.4 for point in _corners(answer))), _FARTHEST_M)
    return _View(*position, (_HEIGHT_MM / 2 - 6) / reach_m)


def _corners(answer: PlanAnswer) -> Iterable[LonLat]:
    shapes = [shape for shape in (answer.site.shape, *(place.shape for place in answer.places)) if shape is not None]
    for shape in shapes:
        west, south, east, north = shape.bounds
        yield from ((west, south), (west, north), (east, south), (east, north))
    if not shapes and answer.site.position is not None:
        yield answer.site.position


def _keyed(waters: Sequence[PlanWater], frame: BaseGeometry) -> tuple[KeyedWater, ...]:
    letters = [first + second for first in ("", *ascii_uppercase) for second in ascii_uppercase]
    return tuple(
        KeyedWater(letter, water, bool(shapely.intersects(water.shape, frame))) for letter, water in zip(letters, waters, strict=False)
    )


_DEFS = (
    f'<defs><clipPath id="map-frame"><rect width="{_WIDTH_MM:g}" height="{_HEIGHT_MM:g}"/></clipPath>'
    '<pattern id="map-wetland" width="5" height="4" patternUnits="userSpaceOnUse">'
    f'<rect width="5" height="4" fill="{_PAPER}"/><path d="M1 3h2.4M2.2 3V1.4M1.4 3 1 1.9M3 3l.4-1.1" stroke="{_INK}" stroke-width=".2" '
    'fill="none"/></pattern></defs>'
)


def _states(view: _View, states: Outlines) -> Iterable[str]:
    yield f'<rect width="{_WIDTH_MM:g}" height="{_HEIGHT_MM:g}" fill="{_PAPER}"/>'
    if len(states) < 2:
        return
    frame = shapely.box(view.box.west, view.box.south, view.box.east, view.box.north)
    edge = frame.boundary
    shown = {state: shapely.intersection(shape, frame) for state, shape in states.items()}
    for state, shape in shown.items():
        if shape.is_empty:
            continue
        line = shapely.difference(shapely.boundary(shape), shapely.buffer(edge, 1e-7))
        yield _path(view, line, fill="none", weight=0.7, dash="5 1.2 1 1.2")
        largest = max(shapely.get_parts(shape), key=lambda part: part.area)
        place = largest.representative_point()
        x, y = view.xy(place.x, place.y)
        name = escape(JURISDICTION_NAMES[state].upper())
        yield f'<text x="{x:.1f}" y="{y:.1f}" font-size="4" letter-spacing="1.6" text-anchor="middle" fill="{_GREY}">{name}</text>'


def _water(view: _View, keyed: KeyedWater, frame: BaseGeometry) -> Iterable[str]:
    reached = keyed.water.reached
    shape = shapely.intersection(shapely.make_valid(keyed.water.shape), shapely.buffer(frame, 0.01))
    main = reached.relation in ("downstream", "contains")
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            fill = "url(#map-wetland)" if reached.water.kind == "wetland" else _PALE
            yield _path(view, part, fill=fill, weight=0.6 if main else 0.3)
        elif part.geom_type == "LineString":
            yield _path(view, part, fill="none", weight=1.1 if main else 0.45)


def _site(view: _View, answer: PlanAnswer) -> Iterable[str]:
    site = answer.site
    if site.shape is not None and site.shape.geom_type != "Point":
        yield _path(view, site.shape, fill="none", weight=0.5, dash="1.6 1")
    for place in answer.places:
        if place.shape is not None and place.shape.geom_type != "Point":
            yield _path(view, place.shape, fill=_INK, weight=0.4)
    if site.position is not None:
        x, y = view.xy(*site.position)
        yield (
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="3.4" fill="none" stroke="{_PAPER}" stroke-width="1.6"/>'
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="3.4" fill="none" stroke="{_INK}" stroke-width=".6"/>'
            f'<path d="M{x - 5:.2f} {y:.2f}h3.2M{x + 1.8:.2f} {y:.2f}h3.2M{x:.2f} {y - 5:.2f}v3.2M{x:.2f} {y + 1.8:.2f}v3.2" '
            f'stroke="{_INK}" stroke-width=".6"/>'
            f'<text x="{x + 5.6:.2f}" y="{y - 3.2:.2f}" font-size="3.4" font-weight="bold" fill="{_INK}" stroke="{_PAPER}" '
            'stroke-width=".9" paint-order="stroke">Site</text>'
        )


def _keys(view: _View, waters: Iterable[KeyedWater], frame: BaseGeometry, position: LonLat | None) -> Iterable[str]:
    taken: list[tuple[float, float]] = [view.xy(*position)] if position else []
    for keyed in waters:
        if not keyed.on_map:
            continue
        inner = shapely.buffer(frame, -0.06 * (frame.bounds[3] - frame.bounds[1]))
        shown = shapely.intersection(shapely.make_valid(keyed.water.shape), inner)
        x, y = _free_place(view, shown if not shown.is_empty else keyed.water.shape, taken)
        taken.append((x, y))
        size = 2.5 if len(keyed.key) == 1 else 3.2
        yield (
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size}" fill="{_PAPER}" stroke="{_INK}" stroke-width=".35"/>'
            f'<text x="{x:.2f}" y="{y + 1.25:.2f}" font-size="3.4" font-weight="bold" text-anchor="middle" fill="{_INK}">{keyed.key}</text>'
        )


def _free_place(view: _View, shape: BaseGeometry, taken: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The place along a water that lies farthest from the marks set so far."""
    parts = [
        part.exterior if part.geom_type == "Polygon" else part
        for part in shapely.get_parts(shape)
        if part.geom_type in ("Polygon", "LineString")
    ]
    if not parts:
        inside = shape.representative_point()
        return view.xy(inside.x, inside.y)
    places = [view.xy(*part.interpolate(share / 12, normalized=True).coords[0]) for part in parts for share in range(1, 12)]

    def room(place: tuple[float, float]) -> float:
        return min([math.dist(place, other) for other in taken], default=99.0)

    clear = [place for place in places if room(place) > 9]
    middle = (_WIDTH_MM / 2, _HEIGHT_MM / 2)
    return min(clear, key=lambda place: math.dist(place, middle)) if clear else max(places, key=room)


def _furniture(view: _View) -> Iterable[str]:
    """Scale bars in both unit systems, and north."""
    metric, customary = _bar_m(view), _bar_miles(view)
    y = _HEIGHT_MM - 5.0
    long_mm = max(metric * view.mm_per_m, customary[0] * _MILE_M * view.mm_per_m)
    yield f'<rect x="2" y="{y - 8:.1f}" width="{long_mm + 26:.1f}" height="11.4" fill="{_PAPER}" stroke="{_INK}" stroke-width=".25"/>'
    metric_words = f"{metric / 1000:g} km" if metric >= 1000 else f"{metric:g} m"
    for row, (length_mm, words) in enumerate(
        ((metric * view.mm_per_m, metric_words), (customary[0] * _MILE_M * view.mm_per_m, customary[1]))
    ):
        at = y - 5.4 + row * 5
        yield (
            f'<path d="M4.5 {at - 1:.1f}v2h{length_mm:.2f}v-2" fill="none" stroke="{_INK}" stroke-width=".5"/>'
            f'<text x="{6.5 + length_mm:.2f}" y="{at + 1:.1f}" font-size="3" fill="{_INK}">{words}</text>'
        )
    x = _WIDTH_MM - 8
    yield (
        f'<rect x="{x - 5:g}" y="2.6" width="10" height="15" fill="{_PAPER}" stroke="{_INK}" stroke-width=".25"/>'
        f'<path d="M{x:g} 4.2 l2.2 7 -2.2 -1.6 -2.2 1.6z" fill="{_INK}"/>'
        f'<text x="{x:g}" y="15.8" font-size="3.6" font-weight="bold" text-anchor="middle" fill="{_INK}">N</text>'
    )


def _bar_m(view: _View) -> float:
    wanted = 40 / view.mm_per_m
    return max(step * 10.0**power for power in range(6) for step in (1, 2, 5) if step * 10.0**power <= wanted)


def _bar_miles(view: _View) -> tuple[float, str]:
    wanted = 40 / view.mm_per_m / _MILE_M
    steps = {1 / 16: "1/16 mi", 1 / 8: "1/8 mi", 1 / 4: "1/4 mi", 1 / 2: "1/2 mi", 1: "1 mi", 2: "2 mi", 3: "3 mi", 5: "5 mi"}
    length = max((step for step in steps if step <= wanted), default=1 / 16)
    return length, steps[length]


def _path(view: _View, shape: BaseGeometry, *, fill: str, weight: float, dash: str = "") -> str:
    steps = []
    for part in shapely.get_parts(shape):
        rings = [part.exterior, *part.interiors] if part.geom_type == "Polygon" else [part]
        for ring in rings:
            if ring.is_empty or ring.geom_type == "Point":
                continue
            places = [view.xy(longitude, latitude) for longitude, latitude in shapely.get_coordinates(ring)]
            closed = "Z" if part.geom_type == "Polygon" else ""
            steps.append("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in places) + closed)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="{"".join(steps)}" fill="{fill}" fill-rule="evenodd" stroke="{_INK}" stroke-width="{weight:g}" '
        f'stroke-linejoin="round" stroke-linecap="round"{dashed}/>'
    )


def _words(answer: PlanAnswer, waters: Sequence[KeyedWater], states: Outlines) -> str:
    """The map for who cannot see it."""
    longitude, latitude = answer.site.position or (0.0, 0.0)
    told = [f"The site lies at longitude {longitude:.4f}, latitude {latitude:.4f}."]
    told += [f"{each.key}: {water_name(each.water.reached)}, {relation(each.water.reached)}." for each in waters]
    if len(states) > 1:
        told.append(f"The line between {' and '.join(JURISDICTION_NAMES[state] for state in states)} is drawn in dashes and dots.")
    return " ".join(told)
