"""The maps of a plan, from the answer and loaded boundaries alone: the site with its places, and
the waters and state line around it.

Legible without colour: still waters are a pale ground with a shore line, wetlands are tufted,
    running water that the site drains to is a
heavy line and other running water a thin one, the state line is dashes and dots, the site a dashed
outline or a cross.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase

import shapely
from markupsafe import Markup, escape
from shapely.geometry.base import BaseGeometry

from service.checks.plan.values import LonLat, PlaceAnswer, PlanAnswer, PlanWater
from service.geography.geodesy import Box, distance_m, nearest_position
from service.output.maps.view import GREY, INK, PALE, PAPER, Place, View
from service.output.words import relation, water_name
from service.values.vocabulary import JURISDICTION_NAMES, Jurisdiction
from service.values.words import joined

_WIDE_MM, _HALF_MM, _HEIGHT_MM = 176.0, 86.0, 84.0
_NEAREST_M, _FARTHEST_M = 400.0, 15_000.0
"""How far north and south of the site the map reaches at least and at most."""
_LEAST_SITE_M = 12.0

Outlines = Mapping[Jurisdiction, BaseGeometry]


@dataclass(frozen=True, slots=True)
class KeyedWater:
    """A water with its letter on the map."""

    key: str
    water: PlanWater
    on_map: bool


@dataclass(frozen=True, slots=True)
class PlanMap:
    """A map, what it shows, and what its letters mean."""

    svg: Markup
    caption: str
    waters: tuple[KeyedWater, ...] = ()
    states: int = 0


def map_box(answer: PlanAnswer) -> Box | None:
    """The widest box that a map may show; None where the site has no position."""
    position = answer.site.position
    return (
        View(*position, (_HEIGHT_MM / 2 - 6) / _FARTHEST_M, _WIDE_MM, _HEIGHT_MM).box
        if position
        else None
    )


def plan_maps(answer: PlanAnswer, states: Outlines) -> tuple[PlanMap, ...]:
    """The map around the site, then that of the site where the plan draws one; none where the site
    has no position.

    Args:
        states: the part of each state in ``map_box``.
    """
    if answer.site.position is None:
        return ()
    corners = list(_corners(answer))
    drawn = (
        max((distance_m(*answer.site.position, *corner) for corner in corners), default=0.0) > 2.0
    )
    around = _around(answer, states, _HALF_MM if drawn else _WIDE_MM)
    return (around, _site(answer, answer.site.position, corners)) if drawn else (around,)


def _around(answer: PlanAnswer, states: Outlines, width_mm: float) -> PlanMap:
    position = answer.site.position or (0.0, 0.0)
    view = View(
        *position, (_HEIGHT_MM / 2 - 5) / _reach_m(answer, position, states), width_mm, _HEIGHT_MM
    )
    waters = _keyed(answer.site.waters, view.frame)
    marks: list[Place] = [view.xy(*position)]
    shown = {state: shapely.intersection(shape, view.frame) for state, shape in states.items()}
    shown = {state: shape for state, shape in shown.items() if not shape.is_empty}
    body = [
        *_state_lines(view, shown),
        *(part for keyed in waters for part in _water(view, keyed.water, "around")),
        *_cross(view, position),
        *_keys(view, waters, marks),
        *_state_names(view, shown, marks),
        *view.furniture(),
    ]
    words = _words(answer, waters, shown)
    caption = "Heavy lines and shores: water that the site lies in or drains to. Thin: other water near. Letters: the table below."
    if len(shown) > 1:
        caption += " Dashes and dots: the state line."
    return PlanMap(
        _svg(view, body, "around", "Map of the waters around the site", words),
        caption,
        waters,
        len(shown),
    )


def _site(answer: PlanAnswer, position: LonLat, corners: Sequence[LonLat]) -> PlanMap:
    """Its places by name, with the plantings that stand in them."""
    west, east = min(x for x, _ in corners), max(x for x, _ in corners)
    south, north = min(y for _, y in corners), max(y for _, y in corners)
    middle = ((west + east) / 2, (south + north) / 2)
    reach_m = max(
        _LEAST_SITE_M,
        distance_m(west, middle[1], east, middle[1]) / 2,
        distance_m(middle[0], south, middle[0], north) / 2,
    )
    view = View(*middle, (_HEIGHT_MM / 2 - 9) / reach_m, _HALF_MM, _HEIGHT_MM)
    body = [part for water in answer.site.waters for part in _water(view, water, "site")]
    if answer.site.shape is not None and answer.site.shape.geom_type != "Point":
        body.append(view.path(answer.site.shape, fill="none", weight=0.5, dash="2 1.2"))
    words_of_map, drawn, elsewhere = [], False, []
    for place in answer.places:
        numbers = ", ".join(
            str(planting.number)
            for planting in answer.plantings
            if planting.place == place.place.name
        )
        words_of_map.append(
            f"{place.place.name}: " + (f"plantings {numbers}." if numbers else "no planting.")
        )
        if place.shape is None:
            elsewhere.append(place.place.name)
        else:
            drawn = True
            body += _place(view, place.shape, place.place.name, numbers)
    ways_out = tuple(_ways_out(answer))
    for way in ways_out:
        body += _way_out(view, way)
        words_of_map.append(f"The {way.words} of {way.place.place.name} is marked.")
    if not drawn:
        body += _cross(view, position)
    body += view.furniture()
    words = f"The site as the plan draws it. {' '.join(words_of_map)}"
    outlined = answer.site.shape is not None and answer.site.shape.geom_type != "Point"
    caption = f"The site{', dashed: its outline' if outlined else ''}. Places by name, with the numbers of their plantings."
    marked = dict.fromkeys(way.words for way in ways_out)
    if marked:
        caption += f" {joined(_ARROWS[words] for words in marked)}."
    if elsewhere:
        caption += f" Not drawn, for want of a geometry: {joined(elsewhere)}."
    return PlanMap(_svg(view, body, "site", "Map of the site", words), caption)


def _reach_m(answer: PlanAnswer, position: LonLat, states: Outlines) -> float:
    """Wide enough for the nearest waters, the corners of the plan, and the state line where it
    is near.
    """
    others = [shape for state, shape in states.items() if state != answer.site.locality.state]
    line_m = min(
        (nearest_position(shape, *position).distance_m * 1.2 for shape in others), default=0.0
    )
    waters_m = max(
        (water.reached.overland_m * 1.15 for water in answer.site.waters[:6]), default=0.0
    )
    corners_m = max(
        (distance_m(*position, *corner) * 1.4 for corner in _corners(answer)), default=0.0
    )
    return min(max(waters_m, line_m, corners_m, _NEAREST_M), _FARTHEST_M)


def _corners(answer: PlanAnswer) -> Iterable[LonLat]:
    shapes = [
        answer.site.shape,
        *(place.shape for place in answer.places),
        *(way.at for way in _ways_out(answer)),
    ]
    for shape in shapes:
        if shape is not None:
            west, south, east, north = shape.bounds
            yield from ((west, south), (west, north), (east, south), (east, north))


def _keyed(waters: Sequence[PlanWater], frame: BaseGeometry) -> tuple[KeyedWater, ...]:
    letters = [first + second for first in ("", *ascii_uppercase) for second in ascii_uppercase]
    return tuple(
        KeyedWater(
            letter, water, water.shape is not None and bool(shapely.intersects(water.shape, frame))
        )
        for letter, water in zip(letters, waters, strict=False)
    )


def _svg(view: View, body: Iterable[str], key: str, title: str, words: str) -> Markup:
    width, height = view.width_mm, view.height_mm
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}mm" height="{height:g}mm" '
        f'role="img" aria-labelledby="map-{key}-t map-{key}-d">'
        f'<title id="map-{key}-t">{escape(title)}</title><desc id="map-{key}-d">{escape(words)}</desc>'
        f'<defs><clipPath id="map-{key}-frame"><rect width="{width:g}" height="{height:g}"/></clipPath>{_wetland(key)}</defs>'
        f'<g clip-path="url(#map-{key}-frame)"><rect width="{width:g}" height="{height:g}" fill="{PAPER}"/>{"".join(body)}</g>'
        f'<rect x=".2" y=".2" width="{width - 0.4:g}" height="{height - 0.4:g}" fill="none" stroke="{INK}" stroke-width=".4"/></svg>'
    )


def _wetland(key: str) -> str:
    return (
        f'<pattern id="map-{key}-wetland" width="5" height="4" patternUnits="userSpaceOnUse"><rect width="5" height="4" fill="{PAPER}"/>'
        f'<path d="M1 3h2.4M2.2 3V1.4M1.4 3 1 1.9M3 3l.4-1.1" stroke="{INK}" stroke-width=".2" fill="none"/></pattern>'
    )


def _state_lines(view: View, shown: Outlines) -> Iterable[str]:
    if len(shown) < 2:
        return
    edge = shapely.buffer(view.frame.boundary, 1e-7)
    first, *others = shown.values()
    drawn = shapely.difference(shapely.boundary(first), edge)
    yield view.path(drawn, fill="none", weight=0.7, dash="5 1.2 1 1.2")
    for shape in others:
        line = shapely.difference(
            shapely.boundary(shape), shapely.buffer(shapely.union(edge, drawn), 1e-7)
        )
        yield view.path(line, fill="none", weight=0.7, dash="5 1.2 1 1.2")


def _state_names(view: View, shown: Outlines, marks: Sequence[Place]) -> Iterable[str]:
    """Each name where its state has most room."""
    if len(shown) < 2:
        return
    west, south, east, north = view.bounds
    spots = [
        (west + (east - west) * across, south + (north - south) * up)
        for across in (0.22, 0.35, 0.5, 0.65)
        for up in (0.06, 0.25, 0.4, 0.6, 0.75, 0.93)
    ]
    corners = ((view.width_mm * 0.2, view.height_mm - 6), (view.width_mm - 8, 8.0))
    for state, shape in shown.items():
        inside = [view.xy(*spot) for spot in spots if shapely.contains_xy(shape, *spot)]
        if inside:
            x, y = max(
                inside, key=lambda spot: min(math.dist(spot, mark) for mark in (*marks, *corners))
            )
            name = escape(JURISDICTION_NAMES[state].upper())
            yield (
                f'<text x="{x:.1f}" y="{y + 1.2:.1f}" font-size="3.6" letter-spacing="1.2" text-anchor="middle" fill="{GREY}" '
                f'stroke="{PAPER}" stroke-width="1" paint-order="stroke">{name}</text>'
            )


def _water(view: View, water: PlanWater, key: str) -> Iterable[str]:
    reached = water.reached
    shape = shapely.intersection(
        shapely.make_valid(water.shape), shapely.buffer(view.frame, view.box.north - view.box.south)
    )
    main = reached.relation in ("downstream", "contains")
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            fill = f"url(#map-{key}-wetland)" if reached.water.kind == "wetland" else PALE
            yield view.path(part, fill=fill, weight=0.6 if main else 0.3)
        elif part.geom_type == "LineString":
            yield view.path(part, fill="none", weight=1.0 if main else 0.4)


def _cross(view: View, position: LonLat) -> Iterable[str]:
    x, y = view.xy(*position)
    yield (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="2.6" fill="none" stroke="{PAPER}" stroke-width="1.6"/>'
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="2.6" fill="none" stroke="{INK}" stroke-width=".5"/>'
        f'<path d="M{x - 4.2:.2f} {y:.2f}h2.8M{x + 1.4:.2f} {y:.2f}h2.8M{x:.2f} {y - 4.2:.2f}v2.8M{x:.2f} {y + 1.4:.2f}v2.8" '
        f'stroke="{INK}" stroke-width=".5"/>' + _label(x + 4.8, y - 2.4, "Site", bold=True)
    )


def _place(view: View, shape: BaseGeometry, name: str, numbers: str) -> Iterable[str]:
    """A place by its outline, line or dot, its name, and the numbers of its plantings."""
    at = shape.representative_point()
    x, y = view.xy(at.x, at.y)
    below = 3.4
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        yield view.path(shape, fill=PALE, weight=0.5)
    elif shape.geom_type != "Point":
        yield view.path(shape, fill="none", weight=0.8)
    else:
        yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="1.3" fill="{INK}"/>'
        y, below = y - 2.6, 6.6
    yield _label(x, y, name, bold=True, anchor="middle")
    if numbers:
        yield _label(x, y + below, numbers, anchor="middle")


@dataclass(frozen=True, slots=True)
class _WayOut:
    """Where water leaves a place, as the plan marks it."""

    place: PlaceAnswer
    words: str
    at: BaseGeometry


_ARROWS = {
    "outlet": "Black arrow: outlet",
    "overflow": "white arrow: where a storm goes over",
}


def _ways_out(answer: PlanAnswer) -> Iterable[_WayOut]:
    for place in answer.places:
        if place.outlet_at is not None:
            yield _WayOut(place, "outlet", place.outlet_at)
        if place.overflow_at is not None:
            yield _WayOut(place, "overflow", place.overflow_at)


def _way_out(view: View, way: _WayOut) -> Iterable[str]:
    """An arrow that points away from the middle of its place; down where that has no outline."""
    at = way.at.representative_point()
    x, y = view.xy(at.x, at.y)
    turned = 180.0
    if way.place.shape is not None:
        middle = way.place.shape.centroid
        from_x, from_y = view.xy(middle.x, middle.y)
        turned = math.degrees(math.atan2(x - from_x, from_y - y))
    fill = INK if way.words == "outlet" else PAPER
    yield (
        f'<g transform="translate({x:.2f} {y:.2f}) rotate({turned:.0f})">'
        f'<path d="M-.9 2.2V-1.4H-2.4L0-5l2.4 3.6H.9v3.6z" fill="{fill}" stroke="{PAPER}" '
        f'stroke-width="1.2" paint-order="stroke"/>'
        f'<path d="M-.9 2.2V-1.4H-2.4L0-5l2.4 3.6H.9v3.6z" fill="{fill}" stroke="{INK}" '
        f'stroke-width=".4"/></g>'
    )
    yield _label(x + 3.4, y + 1, way.words)


def _label(x: float, y: float, words: str, *, bold: bool = False, anchor: str = "start") -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="3"{weight} text-anchor="{anchor}" fill="{INK}" stroke="{PAPER}" '
        f'stroke-width=".9" paint-order="stroke">{escape(words)}</text>'
    )


def _keys(view: View, waters: Iterable[KeyedWater], marks: list[Place]) -> Iterable[str]:
    inner = shapely.buffer(view.frame, -0.07 * (view.box.north - view.box.south))
    for keyed in waters:
        if not keyed.on_map or keyed.water.shape is None:
            continue
        shown = shapely.intersection(shapely.make_valid(keyed.water.shape), inner)
        x, y = _free_place(view, shown if not shown.is_empty else keyed.water.shape, marks)
        marks.append((x, y))
        size = 2.1 if len(keyed.key) == 1 else 2.8
        yield (
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size}" fill="{PAPER}" stroke="{INK}" stroke-width=".35"/>'
            f'<text x="{x:.2f}" y="{y + 1.1:.2f}" font-size="3" font-weight="bold" text-anchor="middle" fill="{INK}">{keyed.key}</text>'
        )


def _free_place(view: View, shape: BaseGeometry, taken: Sequence[Place]) -> Place:
    """The place along a water near the middle that keeps clear of the marks set so far."""
    parts = [
        part.exterior if part.geom_type == "Polygon" else part for part in shapely.get_parts(shape)
    ]
    lines = [part for part in parts if part.geom_type in ("LineString", "LinearRing")]
    if not lines:
        inside = shape.representative_point()
        return view.xy(inside.x, inside.y)
    places = [
        view.xy(*line.interpolate(share / 12, normalized=True).coords[0])
        for line in lines
        for share in range(1, 12)
    ]

    def room(place: Place) -> float:
        return min([math.dist(place, other) for other in taken], default=99.0)

    clear = [place for place in places if room(place) > 6.5]
    middle = (view.width_mm / 2, view.height_mm / 2)
    return (
        min(clear, key=lambda place: math.dist(place, middle)) if clear else max(places, key=room)
    )


def _words(answer: PlanAnswer, waters: Sequence[KeyedWater], shown: Outlines) -> str:
    """The map for who cannot see it."""
    longitude, latitude = answer.site.position or (0.0, 0.0)
    said = [f"The site lies at longitude {longitude:.4f}, latitude {latitude:.4f}."]
    said += [
        f"{water.key}: {water_name(water.water.reached)}, {relation(water.water.reached)}."
        for water in waters
    ]
    if len(shown) > 1:
        said.append(
            f"The line between {' and '.join(JURISDICTION_NAMES[state] for state in shown)} is drawn in dashes and dots."
        )
    return " ".join(said)
