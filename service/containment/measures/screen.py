"""Outlet screen: area, open share, head loss clean and half blocked, what it stops and what
passes, cleaning.
"""

import math
from dataclasses import dataclass

from service.containment.case import Case, Gaps, at_least, at_most, no_better_than, word
from service.containment.hydraulics import (
    bar_open_share,
    bar_rack_loss_m,
    fine_screen_loss_m,
    kirschmer_loss_m,
    mesh_open_share,
    orifice_m3_s,
    rack_gross_area_m2,
    screen_area_m2,
)
from service.containment.parameters import coefficients
from service.containment.values import (
    Check,
    Figure,
    Held,
    Measure,
    ScreenKind,
    ScreenSection,
    Strength,
)
from service.values.quantities import Quantity
from service.values.vocabulary import SpreadMode
from service.values.workings import BY_USER, WORKED_OUT, Coefficient, Given

_PART_OF_WAY: dict[SpreadMode, str] = {
    "seed": "part_seed",
    "spore": "part_spore",
    "fragment": "part_fragment",
    "offset": "part_offset",
    "runner": "part_stolon",
    "stolon": "part_stolon",
    "rhizome": "part_tuber",
    "tuber": "part_tuber",
    "turion": "part_turion",
    "bulbil": "part_turion",
}
_SMALL_FLOATER_CM = 3.0


@dataclass(frozen=True, slots=True)
class _Openings:
    kind: ScreenKind
    opening_mm: Given
    bar_mm: Given

    def sizes(self) -> tuple[float, float]:
        opening, bar = self.opening_mm.quantity, self.bar_mm.quantity
        assert opening is not None
        assert bar is not None
        return opening.low, bar.low

    def open_share(self) -> float:
        opening_mm, bar_mm = self.sizes()
        share = mesh_open_share if self.kind == "mesh" else bar_open_share
        return share(opening_mm, bar_mm)


def outlet_screen(case: Case) -> Measure:
    """A screen across the outlet, sized for the flow that it must pass."""
    gaps = Gaps()
    openings = _openings(case)
    held = tuple(Held(effect.way_out, _stops(case, effect, openings)) for effect in case.held)
    flow, figures = _flow(case, gaps)
    figures.append(_open_share_figure(openings))
    least = coefficients()["open_share_least"]
    checks: list[Check] = [
        at_least(
            "open share of the screen",
            openings.open_share(),
            least.value,
            "share",
            least.known,
            "Use a larger screen or thinner wire.",
        )
    ]
    section = None
    if flow is None:
        held = no_better_than(held, "slows")
    else:
        section = _size(case, gaps, openings, flow, figures, checks)
    if any(not check.passes for check in checks[1:]):
        held = no_better_than(held, "slows")
    steps = (*_passing(case, openings), *_cleaning(case, gaps, figures))
    return case.measure(figures, checks, steps, gaps.result(), held=held, section=section)


def smallest_part(case: Case, way: SpreadMode) -> Coefficient:
    """Sizes of what a way of spreading sends down the water; daughters of small floaters are
    small.
    """
    height = case.plant.traits.height_cm
    small = case.plant.traits.growth_form == "free-floating" and (
        height is None or height.low <= _SMALL_FLOATER_CM
    )
    if way == "offset" and small:
        return coefficients()["part_small_offset"]
    return coefficients()[_PART_OF_WAY[way]]


def _openings(case: Case) -> _Openings:
    """The stated openings, or ones fine enough for half the smallest fragment or daughter plant."""
    request = case.request
    if request.screen_opening_mm is not None:
        opening = Given.by_user("clear opening", request.screen_opening_mm, "mm")
    else:
        ways = {effect.way_out.way for effect in case.held} - {"seed", "spore"}
        parts = [smallest_part(case, way) for way in sorted(ways)] or [
            coefficients()["part_fragment"]
        ]
        smallest = min(parts, key=lambda part: part.low)
        share = coefficients()["opening_share"]
        size = Quantity.exact(max(1.0, smallest.low * share.value), "mm")
        opening = Given(f"clear opening chosen for {smallest.name}", size, share.known)
    if request.screen_bar_mm is not None:
        bar = Given.by_user("wire or bar", request.screen_bar_mm, "mm")
    else:
        bar = coefficients()["screen_wire"].given()
    return _Openings(request.screen or "mesh", opening, bar)


def _stops(case: Case, effect: Held, openings: _Openings) -> Strength:
    """Held at best as the measures file says, and only where even the smallest part exceeds the
    opening.
    """
    opening_mm, _ = openings.sizes()
    part = smallest_part(case, effect.way_out.way)
    if part.high <= opening_mm:
        return "does-not-hold"
    if part.low <= opening_mm:
        return no_better_than([effect], "slows")[0].strength
    return effect.strength


def _flow(case: Case, gaps: Gaps) -> tuple[Given | None, list[Figure]]:
    request = case.request
    if request.outlet_design_flow_l_s is not None:
        return Given.by_user("design flow", request.outlet_design_flow_l_s, "L/s"), []
    diameter_mm, head_cm = request.outlet_pipe_diameter_mm, request.outlet_pipe_head_cm
    if diameter_mm is not None and head_cm is not None:
        discharge = coefficients()["orifice_c"]
        flow = Quantity.exact(
            orifice_m3_s(diameter_mm / 1000, head_cm / 100, discharge.value) * 1000, "L/s"
        )
        inputs = (
            Given.by_user("diameter of the outlet pipe", diameter_mm, "mm"),
            Given.by_user("water above the pipe's centre", head_cm, "cm"),
            discharge.given(),
        )
        figure = Figure(
            "flow through the outlet pipe", "C A (2 g h)^0.5", inputs, flow, (discharge.source,)
        )
        return Given("design flow, from the pipe", flow, WORKED_OUT), [figure]
    if case.place.outlet_flow_l_s:
        gaps.note(
            "outlet_design_flow_l_s",
            "the screen in a storm; the ordinary flow is taken here",
        )
        return Given.by_user("ordinary flow of the outlet", case.place.outlet_flow_l_s, "L/s"), []
    gaps.note("outlet_design_flow_l_s", "area of the screen and its head loss")
    return None, []


def _open_share_figure(openings: _Openings) -> Figure:
    mesh = openings.kind == "mesh"
    return Figure(
        "open share of the screen",
        "(b / (b + t))^2" if mesh else "b / (b + t)",
        (word("screen", openings.kind), openings.opening_mm, openings.bar_mm),
        Quantity.exact(openings.open_share(), "share"),
        ("geometry of a square mesh" if mesh else "geometry of parallel bars",),
    )


def _size(
    case: Case,
    gaps: Gaps,
    openings: _Openings,
    flow: Given,
    figures: list[Figure],
    checks: list[Check],
) -> ScreenSection | None:
    assert flow.quantity is not None
    flow_m3_s = flow.quantity.high / 1000
    angle_deg = case.request.screen_angle_deg or 90.0
    gross_m2 = _gross_area_m2(openings, flow, angle_deg, figures)
    area = Quantity.exact(gross_m2, "m2")
    clean_m, blocked_m = _losses_m(openings, flow_m3_s, gross_m2)
    figures += _loss_figures(openings, flow, area, clean_m, blocked_m)
    head_cm = gaps.need(
        "screen_head_cm", case.request.screen_head_cm, "whether a half-blocked screen overtops"
    )
    if head_cm is not None:
        checks.append(
            at_most(
                "head loss half blocked",
                blocked_m * 100,
                head_cm,
                "cm",
                BY_USER,
                "Make the screen larger, or give the water more room to rise.",
            )
        )
    depth_cm = gaps.need(
        "screen_water_depth_cm", case.request.screen_water_depth_cm, "width of the screen"
    )
    if depth_cm is None:
        return None
    height_m = wetted_length_m(depth_cm / 100, angle_deg)
    width = Quantity.exact(gross_m2 / height_m, "m")
    depth = Given.by_user("depth of water at the screen", depth_cm, "cm")
    figures.append(
        Figure("width of the screen", "wetted area / wetted height", (depth,), width, ("geometry",))
    )
    opening_mm, bar_mm = openings.sizes()
    return ScreenSection(
        width.low, height_m, depth_cm / 100, angle_deg, opening_mm, bar_mm, clean_m, blocked_m
    )


def _gross_area_m2(
    openings: _Openings, flow: Given, angle_deg: float, figures: list[Figure]
) -> float:
    """Mesh by its approach velocity; bars as well, with the share that stays clear and the lean
    of the rack.
    """
    approach, clear = coefficients()["approach_velocity"], coefficients()["rack_clear"]
    assert flow.quantity is not None
    flow_m3_s = flow.quantity.high / 1000
    name = "wetted area of the screen"
    if openings.kind == "mesh":
        gross_m2 = screen_area_m2(flow_m3_s, approach.value)
        result = Quantity.exact(gross_m2, "m2")
        figures.append(
            Figure(
                name,
                "flow / approach velocity",
                (flow, approach.given()),
                result,
                (approach.source,),
            )
        )
        return gross_m2
    gap_mm, bar_mm = openings.sizes()
    slot = approach.value / openings.open_share()
    gross_m2 = rack_gross_area_m2(flow_m3_s, slot, gap_mm, bar_mm, angle_deg, clear.value)
    lean = Given("lean of the rack from the horizontal", Quantity.exact(angle_deg, "deg"), BY_USER)
    inputs = (flow, approach.given(), clear.given(), lean)
    result = Quantity.exact(gross_m2, "m2")
    figures.append(
        Figure(
            name,
            "flow / (approach velocity x clear share x sin(lean))",
            inputs,
            result,
            (approach.source, clear.source),
        )
    )
    shape = coefficients()["bar_shape"]
    loss_m = kirschmer_loss_m(shape.value, bar_mm, gap_mm, flow_m3_s / gross_m2, angle_deg)
    loss = Quantity.exact(loss_m * 100, "cm")
    by_kirschmer = (shape.given(), openings.bar_mm, openings.opening_mm, lean)
    figures.append(
        Figure(
            "head loss, clean, by Kirschmer",
            "K (t/b)^(4/3) v^2 / (2 g) sin(lean)",
            by_kirschmer,
            loss,
            (shape.source,),
        )
    )
    return gross_m2


def wetted_length_m(depth_m: float, angle_deg: float) -> float:
    """Wetted length along a screen that leans at ``angle_deg`` from the horizontal."""
    return depth_m / math.sin(math.radians(angle_deg))


def _losses_m(openings: _Openings, flow_m3_s: float, gross_m2: float) -> tuple[float, float]:
    open_m2 = gross_m2 * openings.open_share()
    left_m2 = open_m2 * (1 - coefficients()["blocked_share"].value)
    if openings.kind == "mesh":
        discharge = coefficients()["screen_c"].value
        return fine_screen_loss_m(flow_m3_s, open_m2, discharge), fine_screen_loss_m(
            flow_m3_s, left_m2, discharge
        )
    approach = flow_m3_s / gross_m2
    clean, clogged = coefficients()["rack_clean_c"].value, coefficients()["rack_clogged_c"].value
    return (
        bar_rack_loss_m(flow_m3_s / open_m2, approach, clean),
        bar_rack_loss_m(flow_m3_s / left_m2, approach, clogged),
    )


def _loss_figures(
    openings: _Openings, flow: Given, area: Quantity, clean_m: float, blocked_m: float
) -> list[Figure]:
    gross = Given("wetted area", area, WORKED_OUT)
    share = Given("open share", Quantity.exact(openings.open_share(), "share"), WORKED_OUT)
    blocked = coefficients()["blocked_share"]
    if openings.kind == "mesh":
        formula, clean_c = "(Q / (C A))^2 / (2 g)", coefficients()["screen_c"]
        clogged_c = clean_c
    else:
        formula = "(V^2 - v^2) / (2 g C)"
        clean_c, clogged_c = coefficients()["rack_clean_c"], coefficients()["rack_clogged_c"]
    return [
        Figure(
            "head loss, clean",
            formula,
            (flow, gross, share, clean_c.given()),
            Quantity.exact(clean_m * 100, "cm"),
            (clean_c.source,),
        ),
        Figure(
            "head loss, half blocked",
            formula,
            (flow, gross, share, blocked.given(), clogged_c.given()),
            Quantity.exact(blocked_m * 100, "cm"),
            (clogged_c.source, blocked.source),
        ),
    ]


def _passing(case: Case, openings: _Openings) -> tuple[str, ...]:
    opening_mm, _ = openings.sizes()
    opening = Quantity.exact(opening_mm, "mm").text()
    lines = [f"The smallest part that the screen stops broadside on is just over {opening}."]
    for way in sorted({effect.way_out.way for effect in case.held}):
        part = smallest_part(case, way)
        size = part.span().text()
        if part.high <= opening_mm:
            lines.append(f"{part.name.capitalize()} ({size}) pass.")
        elif part.low <= opening_mm:
            lines.append(f"Of {part.name} ({size}) the small ones pass.")
    return tuple(dict.fromkeys(lines))


def _cleaning(case: Case, gaps: Gaps, figures: list[Figure]) -> tuple[str, ...]:
    inspection, litter = coefficients()["inspection_days"], coefficients()["litter_held"]
    area = next(
        (figure.result for figure in figures if figure.name == "wetted area of the screen"), None
    )
    drift = gaps.need(
        "drift_kg_day", case.request.drift_kg_day, "days until the screen is half blocked"
    )
    if area is not None and drift:
        days = Quantity(litter.low * area.low / drift, litter.high * area.low / drift, "days")
        inputs = (
            Given.by_user("litter a day", drift, "kg/day"),
            Given(litter.name, litter.span(), litter.known),
        )
        figures.append(
            Figure(
                "days until half blocked",
                "area x litter held / litter a day",
                inputs,
                days,
                (litter.source,),
            )
        )
        return (
            (
                f"Clean at the latest every {Quantity.exact(days.low, 'days').text()}, and after "
                "every storm."
            ),
        )
    return (
        (
            f"Look at it every {inspection.span().text()} (daily in leaf fall) and after every "
            "storm, and clean it."
        ),
    )
