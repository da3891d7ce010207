"""Floating ring or boom for floaters in still water."""

import math

from service.containment.case import Case, Gaps, at_most
from service.containment.parameters import coefficients
from service.containment.values import Check, Figure, Measure, RingSection
from service.values.quantities import Quantity
from service.values.workings import WORKED_OUT, Given


def floating_ring(case: Case) -> Measure:
    """Area, diameter, length of boom, skirt; the current that it withstands."""
    gaps = Gaps()
    draft, wall = coefficients()["ring_draft"], coefficients()["ring_wall"]
    figures: list[Figure] = [
        Figure("skirt below the water", "taken from practice", (), draft.span(), (draft.source,)),
        Figure("ring above the water", "taken from practice", (), wall.span(), (wall.source,)),
    ]
    checks: list[Check] = []
    section = None
    area_m2 = gaps.need("place.area_m2", case.place.area_m2, "length of the ring")
    share = gaps.need("wanted_cover_share", case.request.wanted_cover_share, "length of the ring")
    if share is not None:
        most = 1 - coefficients()["cover_least_open"].value
        known = coefficients()["cover_least_open"].known
        checks.append(
            at_most(
                "share of the surface inside the ring",
                share,
                most,
                "share",
                known,
                "Make the ring smaller.",
            )
        )
    if area_m2 is not None and share is not None and share > 0:
        ring_m2 = area_m2 * share
        diameter_m = 2 * math.sqrt(ring_m2 / math.pi)
        figures += _size_figures(area_m2, share, ring_m2, diameter_m)
        section = RingSection(diameter_m, draft.value, wall.value)
    if case.place.flow != "still":
        current = gaps.need(
            "current_m_s", case.request.current_m_s, "whether plants go under the ring"
        )
        limit = coefficients()["ring_current"]
        if current is not None:
            checks.append(
                at_most(
                    "current square to the ring",
                    current,
                    limit.value,
                    "m/s",
                    limit.known,
                    "A ring does not hold here; floaters go under it.",
                )
            )
    steps = (
        "Tether it at two points, with slack for the water level, out of reach of the outlet.",
        "Look after every wind and rain; net what has got out, the same day.",
    )
    return case.measure(figures, checks, steps, gaps.result(), section=section)


def _size_figures(area_m2: float, share: float, ring_m2: float, diameter_m: float) -> list[Figure]:
    overlap = coefficients()["ring_overlap"]
    inputs = (
        Given.by_user("water surface", area_m2, "m2"),
        Given.by_user("share to cover", share, "share"),
    )
    area = Given("area inside", Quantity.exact(ring_m2, "m2"), WORKED_OUT)
    circle = ("geometry of a circle",)
    round_m = math.pi * diameter_m
    return [
        Figure(
            "area inside the ring",
            "water surface x share",
            inputs,
            Quantity.exact(ring_m2, "m2"),
            ("product",),
        ),
        Figure(
            "diameter of the ring",
            "2 (area / pi)^0.5",
            (area,),
            Quantity.exact(diameter_m, "m"),
            circle,
        ),
        Figure(
            "length of boom to buy",
            "pi x diameter x overlap",
            (Given("diameter", Quantity.exact(diameter_m, "m"), WORKED_OUT), overlap.given()),
            Quantity.exact(round_m * overlap.value, "m"),
            (*circle, overlap.source),
        ),
    ]
