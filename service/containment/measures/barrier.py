"""Root barrier round a bed whose soil joins the ground outside."""

from service.containment.case import Case, Gaps
from service.containment.parameters import coefficients
from service.containment.values import BarrierSection, Figure, Measure
from service.values.quantities import Quantity
from service.values.workings import WORKED_OUT, Given


def root_barrier(case: Case) -> Measure:
    """Depth, height above ground and length of a sheet barrier."""
    gaps = Gaps()
    depth, above = coefficients()["barrier_depth"], coefficients()["rim_above"]
    thickness, overlap = coefficients()["barrier_thickness"], coefficients()["barrier_overlap"]
    figures = [
        Figure(
            "depth of the barrier",
            "taken from practice with running rhizomes",
            (),
            depth.span(),
            (depth.source,),
        )
    ]
    perimeter_m = gaps.need(
        "barrier_perimeter_m", case.request.barrier_perimeter_m, "length and area of the barrier"
    )
    if perimeter_m is not None:
        length_m = perimeter_m + overlap.value
        around = Given.by_user("length round the bed", perimeter_m, "m")
        figures.append(
            Figure(
                "length of sheet",
                "length round the bed + overlap",
                (around, overlap.given()),
                Quantity.exact(length_m, "m"),
                (overlap.source,),
            )
        )
        height_m = (depth.value + above.value) / 100
        figures.append(
            Figure(
                "area of sheet",
                "length x (depth + height above ground)",
                (
                    Given("length", Quantity.exact(length_m, "m"), WORKED_OUT),
                    depth.given(),
                    above.given(),
                ),
                Quantity.exact(length_m * height_m, "m2"),
                (depth.source, above.source),
            )
        )
    steps = (
        (
            f"High-density polyethylene of at least {thickness.given().quantity_text()}, joints "
            "welded or clamped."
        ),
        (
            f"Leave {above.given().quantity_text()} standing above the ground and walk it twice a "
            "year; cut what crosses."
        ),
        "Call the utility marking service before digging a trench.",
    )
    section = BarrierSection(depth.value, above.value, thickness.value)
    return case.measure(figures, (), steps, gaps.result(), section=section)
