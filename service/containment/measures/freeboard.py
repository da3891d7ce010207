"""Freeboard: does the pond overflow in the design storm, how often is that, and what goes over
the spillway.
"""

from service.containment.case import Case, Gaps, at_least, no_better_than, word
from service.containment.hydraulics import IDEAL_BROAD_CREST, head_over_weir_m, v_notch_90_m3_s
from service.containment.hydrology import (
    chance_over_years,
    composite_curve_number,
    largest_storm_held_mm,
    potential_retention_mm,
    rational_peak_m3_s,
    runoff_depth_mm,
    stored_volume_m3,
    storm_volume_m3,
    water_rise_m,
    weighted_curve_number,
)
from service.containment.parameters import coefficients
from service.containment.values import Check, CoverPart, Figure, FreeboardSection, Measure
from service.values.quantities import Quantity
from service.values.workings import WORKED_OUT, Given

TR55 = "USDA NRCS, Technical Release 55, June 1986, chapter 2"
_BALANCE = "volume balance, pond full to its ordinary level, nothing drained during the storm"


def freeboard(case: Case) -> Measure:
    """Storm volume over pond and catchment against the room below the rim."""
    gaps = Gaps()
    figures: list[Figure] = []
    checks: list[Check] = []
    steps: list[str] = []
    pond = _Pond(case, gaps, figures)
    rise_cm = pond.rise_cm(figures)
    freeboard_cm = gaps.need(
        "freeboard_cm", case.request.freeboard_cm, "whether the pond overflows"
    )
    held = case.held
    if rise_cm is not None and case.request.spillway is None:
        figures.append(_needed(rise_cm))
    spilling = case.request.spillway is not None
    if rise_cm is not None and freeboard_cm is not None:
        check = _spill_check(rise_cm, freeboard_cm) if spilling else _check(rise_cm, freeboard_cm)
        checks.append(check)
        steps += _how_often(case, gaps, overflows=rise_cm > freeboard_cm, spilling=spilling)
        if not check.passes:
            held = no_better_than(held, "slows" if rise_cm <= freeboard_cm else "does-not-hold")
    else:
        held = no_better_than(held, "slows")
    if freeboard_cm is not None:
        pond.largest_storm(freeboard_cm, figures)
    head_cm = None
    if case.request.spillway is not None or (
        rise_cm is not None and freeboard_cm and rise_cm > freeboard_cm
    ):
        head_cm = _spillway(case, gaps, figures, checks)
        steps.append("Water over the spillway carries plants; screen it like the outlet.")
    section = None
    if freeboard_cm is not None:
        slope = case.request.bank_slope or 0.0
        # Above the crest the water runs off, so it stands no higher than the crest and its head.
        shown = min(rise_cm, freeboard_cm) if rise_cm is not None and spilling else rise_cm
        section = FreeboardSection(
            shown, freeboard_cm, slope, head_cm, case.request.bank_above_crest_cm
        )
    steps.append(
        "A bank that holds back water belongs to the engineer of record and the state's dam "
        "safety rules."
    )
    return case.measure(figures, checks, steps, gaps.result(), held=held, section=section)


class _Pond:
    """The pond, its catchment and the storm, as far as they are known."""

    def __init__(self, case: Case, gaps: Gaps, figures: list[Figure]) -> None:
        request = case.request
        needed_for = "rise of the water in the storm"
        self.case = case
        self.slope = request.bank_slope or 0.0
        self.storm_mm = gaps.need("storm_depth_mm", request.storm_depth_mm, needed_for)
        self.area_m2 = gaps.need("place.area_m2", case.place.area_m2, needed_for)
        self.catchment_m2 = request.catchment_area_m2
        self.curve_number = request.curve_number
        if request.cover_parts:
            self._weigh(request.cover_parts, figures)
        gaps.need("catchment_area_m2", self.catchment_m2, needed_for)
        if self.catchment_m2 != 0:
            gaps.need("curve_number", self.curve_number, needed_for)

    def _weigh(self, parts: tuple[CoverPart, ...], figures: list[Figure]) -> None:
        """Catchment and curve number from the parts of the ground."""
        numbers = [
            composite_curve_number(p.curve_number, p.impervious_share, p.unconnected_share)
            for p in parts
        ]
        self.catchment_m2 = sum(part.area_m2 for part in parts)
        self.curve_number = weighted_curve_number(
            [(p.area_m2, cn) for p, cn in zip(parts, numbers, strict=True)]
        )
        areas = tuple(
            Given.by_user(f"area under CN {cn:.3g}", p.area_m2, "m2")
            for p, cn in zip(parts, numbers, strict=True)
        )
        number = Quantity.exact(self.curve_number, "ratio")
        formula = (
            "sum(A CN) / sum(A); sealed ground: CNp + p (98 - CNp), less half of what "
            "drains over open ground"
        )
        figures.append(
            Figure(
                "curve number of the catchment",
                formula,
                areas,
                number,
                (f"{TR55}, figures 2-3 and 2-4 (from memory)",),
            )
        )

    @property
    def ground_known(self) -> bool:
        return self.catchment_m2 == 0 or (
            self.catchment_m2 is not None and self.curve_number is not None
        )

    def rise_cm(self, figures: list[Figure]) -> float | None:
        if self.storm_mm is None:
            return None
        storm = Given.by_user("rain of the design storm P", self.storm_mm, "mm")
        if self.curve_number is not None:
            figures += self._runoff_figures(storm, self.storm_mm, self.curve_number)
        if self.area_m2 is None or self.catchment_m2 is None or not self.ground_known:
            return None
        volume_m3 = storm_volume_m3(
            self.storm_mm, self.area_m2, self.catchment_m2, self.curve_number
        )
        rise_m = water_rise_m(volume_m3, self.area_m2, self.slope)
        area = Given.by_user("water surface", self.area_m2, "m2")
        ground = Given.by_user("catchment", self.catchment_m2, "m2")
        volume = Quantity.exact(volume_m3, "m3")
        figures.append(
            Figure(
                "water that the storm brings", "P A + Q Ac", (storm, area, ground), volume, (TR55,)
            )
        )
        slope = self._slope()
        brought = Given("water brought", volume, WORKED_OUT)
        formula = (
            "volume / area"
            if self.slope == 0
            else "((r^3 + 3 z V / pi)^(1/3) - r) / z, a round pond"
        )
        rise = Quantity.exact(rise_m * 100, "cm")
        figures.append(
            Figure("rise of the water", formula, (brought, area, slope), rise, (_BALANCE,))
        )
        return rise_m * 100

    def largest_storm(self, freeboard_cm: float, figures: list[Figure]) -> None:
        if self.area_m2 is None or self.catchment_m2 is None or not self.ground_known:
            return
        storage_m3 = stored_volume_m3(freeboard_cm / 100, self.area_m2, self.slope)
        room = Quantity.exact(storage_m3, "m3")
        inputs = (
            Given.by_user("freeboard", freeboard_cm, "cm"),
            Given.by_user("water surface", self.area_m2, "m2"),
        )
        figures.append(
            Figure(
                "room below the crest" if self.case.request.spillway else "room below the rim",
                "volume above ordinary water",
                inputs,
                room,
                (_BALANCE,),
            )
        )
        storm_mm = largest_storm_held_mm(
            storage_m3, self.area_m2, self.catchment_m2, self.curve_number
        )
        figures.append(
            Figure(
                "largest rain that stays in",
                "the rain at which P A + Q Ac fills the room",
                (Given("room below the rim", room, WORKED_OUT),),
                Quantity.exact(storm_mm, "mm"),
                (TR55, _BALANCE),
            )
        )

    def _slope(self) -> Given:
        if self.case.request.bank_slope is None:
            return word("bank", "upright walls, for want of a slope: the least room")
        return Given.by_user("bank slope, horizontal to vertical", self.slope, "ratio")

    def _runoff_figures(self, storm: Given, storm_mm: float, curve_number: float) -> list[Figure]:
        number = Given.by_user("curve number CN", curve_number, "ratio")
        retention = Quantity.exact(potential_retention_mm(curve_number), "mm")
        depth = Quantity.exact(runoff_depth_mm(storm_mm, curve_number), "mm")
        held = Given("retention S", retention, WORKED_OUT)
        return [
            Figure(
                "retention S of the catchment",
                "25400 / CN - 254",
                (number,),
                retention,
                (f"{TR55}, eq. 2-4",),
            ),
            Figure(
                "runoff depth Q",
                "(P - 0.2 S)^2 / (P + 0.8 S)",
                (storm, held),
                depth,
                (f"{TR55}, eq. 2-3",),
            ),
        ]


def _needed(rise_cm: float) -> Figure:
    margin = coefficients()["storm_margin"]
    rise = Given("rise of the water", Quantity.exact(rise_cm, "cm"), WORKED_OUT)
    result = Quantity.exact(rise_cm + margin.value, "cm")
    return Figure(
        "freeboard needed",
        "rise + margin",
        (rise, margin.given()),
        result,
        (_BALANCE, margin.source),
    )


def _check(rise_cm: float, freeboard_cm: float) -> Check:
    margin = coefficients()["storm_margin"]
    needed_cm = rise_cm + margin.value
    missing_cm = Quantity.exact(max(0.0, needed_cm - freeboard_cm), "cm").text()
    over = (
        "The pond overflows in this storm."
        if rise_cm > freeboard_cm
        else "The storm stays in, without the margin."
    )
    return at_least(
        "freeboard",
        freeboard_cm,
        needed_cm,
        "cm",
        margin.known,
        f"{over} Lower the water or raise the rim by {missing_cm}.",
    )


def _spill_check(rise_cm: float, crest_cm: float) -> Check:
    """A pond with a spillway first loses water there, whatever the rim."""
    return at_least(
        "room below the spillway crest",
        crest_cm,
        rise_cm,
        "cm",
        WORKED_OUT,
        "This storm runs over the spillway and carries plants: screen it, or keep the ordinary "
        f"water {Quantity.exact(max(0.0, rise_cm - crest_cm), 'cm').text()} lower.",
    )


def _how_often(case: Case, gaps: Gaps, *, overflows: bool, spilling: bool) -> list[str]:
    years = gaps.need(
        "storm_return_years", case.request.storm_return_years, "how often the pond overflows"
    )
    if years is None:
        return []
    span = int(coefficients()["horizon"].value)
    a_year = Quantity.exact(1 / years, "share").text()
    over = Quantity.exact(chance_over_years(years, span), "share").text()
    storm = (
        f"A storm of this size or larger comes once in {years:g} years on the average: {a_year} in "
        f"any year, {over} in {span} years."
    )
    where = "over its spillway" if spilling else "over its rim"
    then = f"It sends water {where}." if overflows else f"Only a larger one sends water {where}."
    return [f"{storm} {then}"]


def _spillway(case: Case, gaps: Gaps, figures: list[Figure], checks: list[Check]) -> float | None:
    request = case.request
    needed_for = "depth of water over the spillway"
    kind = gaps.need("spillway", request.spillway, needed_for)
    intensity = gaps.need("rain_intensity_mm_h", request.rain_intensity_mm_h, needed_for)
    runoff = gaps.need("runoff_coefficient", request.runoff_coefficient, needed_for)
    ground_m2 = sum(part.area_m2 for part in request.cover_parts) or request.catchment_area_m2
    if kind != "v-notch-90":
        gaps.need("spillway_length_m", request.spillway_length_m, needed_for)
    if kind is None or intensity is None or runoff is None or ground_m2 is None:
        return None
    surface_m2 = case.place.area_m2 or 0.0
    peak = (
        rational_peak_m3_s(runoff, intensity, ground_m2 / 10_000)
        + intensity / 1000 / 3600 * surface_m2
    )
    flow = Quantity.exact(peak, "m3/s")
    inputs = (
        Given.by_user("runoff coefficient C", runoff, "ratio"),
        Given.by_user("rain intensity i", intensity, "mm/h"),
        Given.by_user("catchment", ground_m2 / 10_000, "ha"),
    )
    sources = (
        "rational method, Schwab et al., Soil and Water Conservation Engineering, 4th ed., eq. 4.1",
        "SI identity",
    )
    figures.append(
        Figure("peak flow to the spillway", "C i A / 360 + rain on the pond", inputs, flow, sources)
    )
    head = _head_m(case, peak)
    if head is None:
        return None
    head_m, formula, source = head
    depth = Quantity.exact(head_m * 100, "cm")
    figures.append(
        Figure(
            "water over the crest",
            formula,
            (Given("peak flow", flow, WORKED_OUT),),
            depth,
            (source,),
        )
    )
    bank_cm = gaps.need(
        "bank_above_crest_cm", request.bank_above_crest_cm, "whether the bank is overtopped"
    )
    margin = coefficients()["bank_margin"]
    if bank_cm is not None:
        needed = head_m * 100 + margin.value
        checks.append(
            at_least(
                "bank above the crest",
                bank_cm,
                needed,
                "cm",
                margin.known,
                "Lengthen the crest or raise the bank.",
            )
        )
    return head_m * 100


def _head_m(case: Case, peak_m3_s: float) -> tuple[float, str, str] | None:
    if case.request.spillway == "v-notch-90":
        head_m = (peak_m3_s / v_notch_90_m3_s(1.0)) ** (1 / 2.48)
        return (
            head_m,
            "(Q / 2.49)^(1/2.48), in feet",
            "Bureau of Reclamation, Water Measurement Manual, ch. 7 (from memory)",
        )
    length_m = case.request.spillway_length_m
    if length_m is None:
        return None
    if case.request.spillway == "sharp-crested":
        weir = coefficients()["sharp_weir"]
        return (
            head_over_weir_m(peak_m3_s, length_m, weir.value),
            "(Q / (1.84 L))^(2/3)",
            weir.source,
        )
    weir = coefficients()["broad_weir"]
    head_m = head_over_weir_m(peak_m3_s, length_m, weir.value * IDEAL_BROAD_CREST)
    return head_m, "(Q / (Cd 1.705 L))^(2/3)", weir.source
