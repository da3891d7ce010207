"""A sheet of paper to draw on to scale: lengths in metres go through a ``Frame``, everything else
is in millimetres of paper.

Told apart without colour: water is a pale ground under a level mark, soil is stippled, earth is
    hatched, foam is cross-hatched.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from markupsafe import Markup, escape

from service.values.quantities import Quantity, Unit


@dataclass(frozen=True, slots=True)
class Drawing:
    """One drawing.

    Attributes:
        svg: inline SVG with a title and a description.
        caption: what it shows and at what scale.
        words: its dimensions in words, for who cannot see it.
    """

    svg: Markup
    caption: str
    words: str


Point = tuple[float, float]
Fill = Literal["none", "water", "soil", "earth", "foam", "solid", "paper"]
Side = Literal["left", "right"]
_SIDES: tuple[Side, ...] = ("left", "right")

INK, PAPER, PALE = "#15323b", "#ffffff", "#e4ecee"
WIDTH_MM = 86.0
"""Two drawings stand side by side between the margins of A4 and of Letter."""

_SCALES = (
    0.1,
    0.2,
    0.5,
    1,
    2,
    2.5,
    5,
    10,
    15,
    20,
    25,
    30,
    40,
    50,
    75,
    100,
    150,
    200,
    250,
    500,
    1000,
    2000,
    5000,
)
_TEXT_MM, _LINE_MM = 2.5, 3.1
_GAP_MM, _COLUMN_MM = 1.2, 22.0
LEFT_MM, RIGHT_MM, MIDDLE_MM = 25.0, 61.0, 43.0
"""Between these the thing itself is drawn; its words stand in a column on either side."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a place in the real world stands on the sheet. ``ratio`` 20 is 1:20."""

    ratio: float
    left_mm: float
    base_mm: float

    def x(self, metres: float) -> float:
        return self.left_mm + self.length(metres)

    def y(self, metres: float) -> float:
        return self.base_mm - self.length(metres)

    def at(self, x_m: float, y_m: float) -> Point:
        return self.x(x_m), self.y(y_m)

    def length(self, metres: float) -> float:
        """Millimetres of paper for a length."""
        return metres * 1000 / self.ratio

    @property
    def words(self) -> str:
        """``1:20``, or ``5:1`` for an enlargement."""
        return f"1:{self.ratio:g}" if self.ratio >= 1 else f"{1 / self.ratio:g}:1"


def scale_for(width_m: float, height_m: float, width_mm: float, height_mm: float) -> float:
    """The largest usual scale at which a thing fits into a box of paper."""
    least = max(width_m * 1000 / width_mm, height_m * 1000 / height_mm)
    return next((scale for scale in _SCALES if scale >= least - 1e-9), least)


def both_units(value: float, unit: Unit) -> str:
    """A measure with its US customary partner, as dimensions carry it."""
    return Quantity.exact(value, unit).text()


def metres(value_m: float) -> str:
    """A length given in metres, written in the unit that suits its size."""
    if abs(value_m) < 0.001:
        return "under 1 mm"
    if abs(value_m) < 0.01:
        return both_units(value_m * 1000, "mm")
    return both_units(value_m * 100, "cm") if abs(value_m) < 3 else both_units(value_m, "m")


@dataclass(slots=True)
class _Callout:
    y_mm: float
    anchor: Point
    lines: tuple[str, ...]


@dataclass(slots=True)
class Sheet:
    """One drawing under way, as high as what is drawn on it.

    ``key`` makes its ids unique in the document.
    """

    key: str
    width_mm: float = WIDTH_MM
    _parts: list[str] = field(default_factory=list)
    _lowest_mm: float = 0.0
    _callouts: dict[Side, list[_Callout]] = field(default_factory=lambda: {"left": [], "right": []})

    def line(self, start: Point, end: Point, weight: float = 0.25, dash: str = "") -> None:
        self._reach(start, end)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<line x1="{start[0]:.2f}" y1="{start[1]:.2f}" x2="{end[0]:.2f}" y2="{end[1]:.2f}" '
            f'stroke="{INK}" stroke-width="{weight:g}"{dashed}/>'
        )

    def polyline(self, points: Sequence[Point], weight: float = 0.25, dash: str = "") -> None:
        self._reach(*points)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<polyline points="{_joined(points)}" fill="none" stroke="{INK}" stroke-width="{weight:g}"{dashed}/>'
        )

    def polygon(self, points: Sequence[Point], fill: Fill = "none", weight: float = 0.25) -> None:
        self._reach(*points)
        stroke = f' stroke="{INK}" stroke-width="{weight:g}"' if weight else ""
        self._parts.append(
            f'<polygon points="{_joined(points)}" fill="{self._paint(fill)}"{stroke}/>'
        )

    def rect(
        self, corner: Point, width: float, height: float, fill: Fill = "none", weight: float = 0.25
    ) -> None:
        self._reach((corner[0], corner[1] + height))
        stroke = f' stroke="{INK}" stroke-width="{weight:g}"' if weight else ""
        self._parts.append(
            f'<rect x="{corner[0]:.2f}" y="{corner[1]:.2f}" width="{width:.2f}" height="{height:.2f}" fill="{self._paint(fill)}"{stroke}/>'
        )

    def circle(
        self, centre: Point, radius: float, fill: Fill = "none", weight: float = 0.25
    ) -> None:
        stroke = f' stroke="{INK}" stroke-width="{weight:g}"' if weight else ""
        self._parts.append(
            f'<circle cx="{centre[0]:.2f}" cy="{centre[1]:.2f}" r="{radius:.2f}" fill="{self._paint(fill)}"{stroke}/>'
        )

    def text(
        self,
        place: Point,
        words: str,
        *,
        anchor: str = "start",
        size: float = _TEXT_MM,
        bold: bool = False,
    ) -> None:
        self._reach((place[0], place[1] + 0.8))
        weight = ' font-weight="bold"' if bold else ""
        at = f'x="{place[0]:.2f}" y="{place[1]:.2f}" font-size="{size:g}" text-anchor="{anchor}"'
        self._parts.append(f'<text {at} fill="{INK}"{weight}>{escape(words)}</text>')

    def level(self, x: float, y: float) -> None:
        """The mark of a water level: a triangle on the line and two short lines under it."""
        self.polygon([(x - 1.2, y - 2.0), (x + 1.2, y - 2.0), (x, y)], "paper", 0.25)
        self.line((x - 0.8, y + 0.8), (x + 0.8, y + 0.8), 0.2)
        self.line((x - 0.4, y + 1.5), (x + 0.4, y + 1.5), 0.2)

    def across(self, left: Point, right: Point, y: float, words: str) -> None:
        """A horizontal dimension at height ``y``; the words stand on the far side of it."""
        under = y > max(left[1], right[1])
        for x, from_y in (left, right):
            self.line((x, from_y), (x, y + (0.8 if y > from_y else -0.8)), 0.13)
        self.line((left[0], y), (right[0], y), 0.18)
        self._ticks([(left[0], y), (right[0], y)])
        self.text(((left[0] + right[0]) / 2, y + 3.0 if under else y - 0.9), words, anchor="middle")

    def upright(self, low: Point, high: Point, x: float, side: Side, *lines: str) -> None:
        """A vertical dimension at ``x``; its words stand in the column on that side."""
        for from_x, y in (low, high):
            self.line((from_x, y), (x + (0.8 if x > from_x else -0.8), y), 0.13)
        self.line((x, low[1]), (x, high[1]), 0.18)
        self._ticks([(x, low[1]), (x, high[1])])
        self.note((x, (low[1] + high[1]) / 2), side, *lines)

    def note(self, anchor: Point, side: Side, *lines: str) -> None:
        """Words in the column on a side, led to a place on the drawing."""
        self._callouts[side].append(_Callout(anchor[1], anchor, lines))

    def svg(self, frame: Frame, title: str, description: str) -> Markup:
        """The drawing as inline SVG with its scale bar, at its true size in print."""
        labels = [part for side in _SIDES for part in self._placed(side)]
        bar = self._scale_bar(frame)
        width, height = self.width_mm, self._lowest_mm + 1.0
        return Markup(
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:.1f}" width="{width:g}mm" '
            f'height="{height:.1f}mm" role="img" aria-labelledby="{self.key}-t {self.key}-d">'
            f'<title id="{self.key}-t">{escape(title)}</title><desc id="{self.key}-d">{escape(description)}</desc>'
            f"{self._patterns()}{''.join(self._parts[:-bar])}{''.join(labels)}{''.join(self._parts[-bar:])}</svg>"
        )

    def _scale_bar(self, frame: Frame) -> int:
        """A bar of a round length in both unit systems at the foot of the sheet; returns of how
        many parts it is.
        """
        before = len(self._parts)
        length_m = _round_length(frame.ratio * 0.03)
        left, y = 1.0, self._lowest_mm + 3.0
        right = left + frame.length(length_m)
        self.rect((left, y), (right - left) / 2, 1.2, "solid", 0.2)
        self.rect(((left + right) / 2, y), (right - left) / 2, 1.2, "paper", 0.2)
        self.text((right + 1.5, y + 1.4), f"{metres(length_m)}, {frame.words}", size=2.3)
        return len(self._parts) - before

    def _reach(self, *points: Point) -> None:
        self._lowest_mm = max(self._lowest_mm, *(y for _, y in points))

    def _ticks(self, places: Sequence[Point]) -> None:
        for x, y in places:
            self.line((x - 0.7, y + 0.7), (x + 0.7, y - 0.7), 0.3)

    def _placed(self, side: Side) -> Iterable[str]:
        """The words of a column, pushed apart so that none stands over another, each led to its
        place.
        """
        before = len(self._parts)
        floor = 2.0
        for callout in sorted(self._callouts[side], key=lambda callout: callout.y_mm):
            height = _LINE_MM * len(callout.lines)
            top = max(floor, callout.y_mm - height / 2)
            floor = top + height + _GAP_MM
            edge = _COLUMN_MM if side == "left" else self.width_mm - _COLUMN_MM
            anchor = "end" if side == "left" else "start"
            inward = 1.0 if side == "left" else -1.0
            self.polyline(
                [
                    callout.anchor,
                    (edge + inward * 2.2, top + height / 2),
                    (edge + inward * 0.8, top + height / 2),
                ],
                0.13,
            )
            for number, words in enumerate(callout.lines):
                self.text((edge, top + _LINE_MM * number + _TEXT_MM), words, anchor=anchor)
        placed = self._parts[before:]
        del self._parts[before:]
        return placed

    def _paint(self, fill: Fill) -> str:
        plain = {"none": "none", "water": PALE, "solid": INK, "paper": PAPER}
        return plain.get(fill) or f"url(#{self.key}-{fill})"

    def _patterns(self) -> str:
        def pattern(name: str, size: float, body: str) -> str:
            return (
                f'<pattern id="{self.key}-{name}" width="{size:g}" height="{size:g}" patternUnits="userSpaceOnUse">'
                f'<rect width="{size:g}" height="{size:g}" fill="{PAPER}"/>{body}</pattern>'
            )

        dots = f'<circle cx=".5" cy=".5" r=".2" fill="{INK}"/><circle cx="1.5" cy="1.3" r=".16" fill="{INK}"/>'
        slant = f'<path d="M0 1.8 1.8 0" stroke="{INK}" stroke-width=".14"/>'
        cross = f'<path d="M0 1.4 1.4 0M0 0l1.4 1.4" stroke="{INK}" stroke-width=".1"/>'
        return f"<defs>{pattern('soil', 2, dots)}{pattern('earth', 1.8, slant)}{pattern('foam', 1.4, cross)}</defs>"


def _joined(points: Iterable[Point]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)


def _round_length(metres_wanted: float) -> float:
    """The nearest 1, 2 or 5 of a power of ten below the length wanted."""
    steps = [digit * 10.0**power for power in range(-4, 4) for digit in (1, 2, 5)]
    return max((step for step in steps if step <= metres_wanted), default=steps[0])


_LEAN = (-0.32, -0.14, 0.03, 0.17, 0.34)


def stems(
    sheet: Sheet,
    frame: Frame,
    places_m: Iterable[float],
    foot_m: float,
    shown_m: float,
    full_m: float,
    spread_m: float,
) -> bool:
    """Draw a plant at each place. Returns whether it was cut off.

    Args:
        foot_m: height of the crown.
        shown_m: how much of ``full_m`` is drawn.
        spread_m: width of the tuft at its top.
    """
    if shown_m <= 0:
        return False
    cut = full_m > shown_m + 1e-9
    for place in places_m:
        for number, lean in enumerate(_LEAN):
            rise = shown_m * (1.0 if cut else (0.78, 0.94, 1.0, 0.9, 0.7)[number])
            foot, top = (
                frame.at(place + lean * spread_m * 0.15, foot_m),
                frame.at(place + lean * spread_m, foot_m + rise),
            )
            bend = (foot[0] + (top[0] - foot[0]) * 0.25, foot[1] + (top[1] - foot[1]) * 0.6)
            sheet.polyline([foot, bend, top], 0.3)
        if cut:
            x, y = frame.at(place, foot_m + shown_m)
            half = frame.length(spread_m) * 0.45
            sheet.polyline(
                [
                    (x - half, y + 0.5),
                    (x - 0.8, y + 0.5),
                    (x - 0.3, y - 1.0),
                    (x + 0.3, y + 1.4),
                    (x + 0.8, y + 0.5),
                    (x + half, y + 0.5),
                ],
                0.2,
            )
    return cut
