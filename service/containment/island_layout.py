"""Holes of a foam island: their size, pitch and number for a pot."""

import math
from dataclasses import dataclass

from service.containment.buoyancy import HangingPot
from service.containment.case import Case, Gaps, at_most
from service.containment.containers import diameter_at
from service.containment.parameters import coefficients
from service.containment.values import Check, Figure
from service.errors import BadRequest
from service.values.quantities import Quantity
from service.values.workings import WORKED_OUT, Given


@dataclass(frozen=True, slots=True)
class Layout:
    """Places for holes in rows across the width and columns along the length, m. Only as many
    holes are cut as there are pots.

    Attributes:
        rim_above_m: how far the rim of a pot stands above the deck, where its taper wedges in the
            straight hole.
    """

    length_m: float
    width_m: float
    pot_diameter_m: float
    pot_base_m: float
    pot_height_m: float
    rim_above_m: float
    hole_m: float
    pitch_m: float
    rows: int
    columns: int

    @property
    def pot(self) -> HangingPot:
        """A pot as it hangs below the deck."""
        return HangingPot(
            min(self.hole_m, self.pot_diameter_m),
            min(self.pot_base_m, self.hole_m),
            self.pot_height_m - self.rim_above_m,
        )

    @property
    def hole_area_m2(self) -> float:
        return math.pi / 4 * self.hole_m**2

    def deck_area_m2(self, count: int) -> float:
        """Slab less the holes cut, one a pot."""
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
    base_cm = gaps.need("pot_base_diameter_cm", request.pot_base_diameter_cm, "the hole for a pot")
    height_cm = gaps.need("pot_height_cm", request.pot_height_cm, "the hole, draft and tipping")
    length_m = gaps.need("island_length_m", request.island_length_m, needed_for)
    width_m = gaps.need("island_width_m", request.island_width_m, needed_for)
    if pot_cm is None or base_cm is None or height_cm is None:
        return None
    hole_m, rim_above_m = _hole(pot_cm, base_cm, height_cm, figures, checks)
    web_m = _web(hole_m, figures)
    if length_m is None or width_m is None:
        return None
    width_m, length_m = sorted((width_m, length_m))
    rows, columns = holes_along(width_m, hole_m, web_m), holes_along(length_m, hole_m, web_m)
    sides = (Given.by_user("length", length_m, "m"), Given.by_user("width", width_m, "m"))
    most = Quantity.exact(rows * columns, "count")
    formula = f"{rows} across the width x {columns} along the length"
    figures.append(Figure("places for holes", formula, sides, most, ("geometry",)))
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
    goes_in = all(check.passes for check in checks if check.name == _GOES_IN)
    if not fits or not goes_in:
        return None
    return Layout(
        length_m,
        width_m,
        pot_cm / 100,
        base_cm / 100,
        height_cm / 100,
        rim_above_m,
        hole_m,
        hole_m + web_m,
        rows,
        columns,
    )


_GOES_IN = "base of the pot against its hole"


def _hole(
    pot_cm: float, base_cm: float, height_cm: float, figures: list[Figure], checks: list[Check]
) -> tuple[float, float]:
    """Hole, and how far the rim stands above the deck, m.

    A tapered pot wedges in a straight hole where it is as wide as the hole, so the hole is the
    width a little below its rim. A straight pot has to hang by its lip.
    """
    ledge, stand = coefficients()["hole_ledge"], coefficients()["rim_above_deck"]
    rim = Given.by_user("pot diameter at the rim D", pot_cm, "cm")
    base = Given.by_user("pot diameter at the base d", base_cm, "cm")
    height = Given.by_user("pot height h", height_cm, "cm")
    inputs: tuple[Given, ...]
    if base_cm < pot_cm and stand.value * 100 < height_cm:
        hole_m = diameter_at(pot_cm, base_cm, height_cm, stand.value * 100) / 100
        above_m, formula = stand.value, "D - (D - d) s / h, s the rim above the deck"
        inputs, source = (rim, base, height, stand.given()), stand.source
    else:
        hole_m, above_m = pot_cm / 100 - 2 * ledge.value, 0.0
        formula, inputs, source = "D - 2 x ledge", (rim, base, ledge.given()), ledge.source
    if hole_m <= 0:
        raise BadRequest(
            f"A pot of {pot_cm:g} cm is smaller than the ledge that holds it.",
            pointer="/pot_diameter_cm",
            next_step="Give the diameter at the rim in centimetres.",
        )
    hole = Quantity.exact(hole_m * 100, "cm")
    figures.append(Figure("hole", formula, inputs, hole, ("similar triangles", source)))
    checks.append(
        at_most(
            _GOES_IN,
            base_cm,
            hole_m * 100,
            "cm",
            ledge.known,
            "The pot does not go into a hole that its rim rests on: take a tapered pot.",
        )
    )
    return hole_m, above_m


def _web(hole_m: float, figures: list[Figure]) -> float:
    web, least = coefficients()["hole_web"], coefficients()["hole_web_least"]
    web_m = max(least.value, web.value * hole_m)
    hole = Quantity.exact(hole_m * 100, "cm")
    figures.append(
        Figure(
            "pitch of the holes, centre to centre",
            "hole + web",
            (Given("hole", hole, WORKED_OUT), web.given(), least.given()),
            Quantity.exact((hole_m + web_m) * 100, "cm"),
            (web.source,),
        )
    )
    return web_m
