"""Holes of a foam island: their size, pitch and number for a pot."""

import math
from dataclasses import dataclass

from service.containment.case import Case, Gaps, at_most
from service.containment.parameters import coefficients
from service.containment.values import Check, Figure
from service.errors import BadRequest
from service.values.quantities import Quantity
from service.values.workings import WORKED_OUT, Given


@dataclass(frozen=True, slots=True)
class Layout:
    """Holes in rows across the width and columns along the length, m."""

    length_m: float
    width_m: float
    pot_diameter_m: float
    pot_height_m: float
    hole_m: float
    pitch_m: float
    rows: int
    columns: int

    @property
    def hole_area_m2(self) -> float:
        return math.pi / 4 * self.hole_m**2

    def deck_area_m2(self, count: int) -> float:
        """Slab less the holes in use."""
        return self.length_m * self.width_m - count * self.hole_area_m2


def holes_along(length_m: float, hole_m: float, web_m: float) -> int:
    """How many holes fit in a line with the web between them and at both ends."""
    return max(0, math.floor((length_m - web_m) / (hole_m + web_m) + 1e-9))


def lay_out(case: Case, gaps: Gaps, figures: list[Figure], checks: list[Check]) -> Layout | None:
    """Hole, pitch and number for the pot and slab of the request; None until their sizes are
    known.
    """
    request = case.request
    needed_for = "number and pitch of the holes"
    pot_cm = gaps.need("pot_diameter_cm", request.pot_diameter_cm, needed_for)
    height_cm = gaps.need("pot_height_cm", request.pot_height_cm, "draft and tipping")
    length_m = gaps.need("island_length_m", request.island_length_m, needed_for)
    width_m = gaps.need("island_width_m", request.island_width_m, needed_for)
    if pot_cm is None:
        return None
    hole_m, web_m = _hole_and_web(pot_cm, figures)
    if length_m is None or width_m is None:
        return None
    width_m, length_m = sorted((width_m, length_m))
    rows, columns = holes_along(width_m, hole_m, web_m), holes_along(length_m, hole_m, web_m)
    sides = (Given.by_user("length", length_m, "m"), Given.by_user("width", width_m, "m"))
    most = Quantity.exact(rows * columns, "count")
    formula = f"{rows} across the width x {columns} along the length"
    figures.append(Figure("holes that fit", formula, sides, most, ("geometry",)))
    count = request.count
    if count is not None:
        known = coefficients()["hole_web"].known
        checks.append(
            at_most(
                "pots on the island",
                count,
                rows * columns,
                "count",
                known,
                "Use a larger island or a second one.",
            )
        )
    fits = count is None or count <= rows * columns
    if height_cm is None or not fits:
        return None
    return Layout(
        length_m, width_m, pot_cm / 100, height_cm / 100, hole_m, hole_m + web_m, rows, columns
    )


def _hole_and_web(pot_cm: float, figures: list[Figure]) -> tuple[float, float]:
    ledge, web, least = (
        coefficients()[key] for key in ("hole_ledge", "hole_web", "hole_web_least")
    )
    hole_m = pot_cm / 100 - 2 * ledge.value
    if hole_m <= 0:
        raise BadRequest(
            f"A pot of {pot_cm:g} cm is smaller than the ledge that holds it.",
            pointer="/pot_diameter_cm",
            next_step="Give the diameter at the rim in centimetres.",
        )
    web_m = max(least.value, web.value * hole_m)
    pot = Given.by_user("pot diameter at the rim", pot_cm, "cm")
    hole = Quantity.exact(hole_m * 100, "cm")
    figures.append(
        Figure("hole", "pot diameter - 2 x ledge", (pot, ledge.given()), hole, (ledge.source,))
    )
    figures.append(
        Figure(
            "pitch of the holes, centre to centre",
            "hole + web",
            (Given("hole", hole, WORKED_OUT), web.given(), least.given()),
            Quantity.exact((hole_m + web_m) * 100, "cm"),
            (web.source,),
        )
    )
    return hole_m, web_m
