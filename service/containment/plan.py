"""The containment plan of one plant in one place, or its disposal where the law prohibits it."""

import math
from dataclasses import fields

from service.containment.case import Case, Gaps
from service.containment.choosing import held_by, rules_for, ways_out
from service.containment.measures import DESIGNERS
from service.containment.parameters import coefficients
from service.containment.values import (
    ContainmentPlan,
    ContainmentRequest,
    Disposal,
    Measure,
    Verdict,
    WayOut,
)
from service.containment.wording import holding_clause, leaving
from service.errors import BadRequest
from service.values.plants import COMMON_PRACTICE, Plant
from service.values.site import Climate, Place, Position
from service.values.workings import Missing

_MAY_BE_ZERO = {
    "catchment_area_m2",
    "storm_depth_mm",
    "freeboard_cm",
    "bank_slope",
    "current_m_s",
    "design_wind_m_s",
    "water_level_range_cm",
    "overhang_limit_cm",
    "drift_kg_day",
    "plant_mass_kg",
    "planted_cover_share",
    "wanted_cover_share",
    "rain_intensity_mm_h",
    "bank_above_crest_cm",
    "count",
    "impervious_share",
    "unconnected_share",
}
_UPPER = {
    "curve_number": 100.0,
    "wanted_cover_share": 1.0,
    "planted_cover_share": 1.0,
    "impervious_share": 1.0,
    "unconnected_share": 1.0,
    "runoff_coefficient": 1.0,
    "screen_angle_deg": 90.0,
}
_LOWER = {"storm_return_years": 1.0}


def check_request(request: ContainmentRequest, place: Place) -> None:
    """Turn away figures that are not finite, below zero, zero where that has no meaning, or out of
    range.

    Raises:
        BadRequest: names the first such figure.
    """
    for field in fields(request):
        value = getattr(request, field.name)
        if isinstance(value, int | float) and not isinstance(value, bool):
            _check(field.name, float(value))
    for index, part in enumerate(request.cover_parts):
        _check("curve_number", part.curve_number, f"/cover_parts/{index}/curve_number")
        _check("area_m2", part.area_m2, f"/cover_parts/{index}/area_m2")
        for name in ("impervious_share", "unconnected_share"):
            share = getattr(part, name)
            if share is not None:
                _check(name, share, f"/cover_parts/{index}/{name}")
    if request.doubling_days is not None:
        low, high = request.doubling_days
        _check("doubling_days", low)
        _check("doubling_days", high)
        if low > high:
            raise BadRequest(
                f"The doubling time runs backwards: {low:g} to {high:g} days.",
                pointer="/doubling_days",
            )
    if place.area_m2 is not None:
        _check("area_m2", place.area_m2, "/place/area_m2")


def _check(name: str, value: float, pointer: str = "") -> None:
    if not math.isfinite(value):
        problem = "must be a finite number"
    elif value < 0 or (value == 0 and name not in _MAY_BE_ZERO):
        problem = "must not be below zero" if name in _MAY_BE_ZERO else "must be above zero"
    elif value > _UPPER.get(name, math.inf):
        problem = f"must be at most {_UPPER[name]:g}"
    elif value < _LOWER.get(name, -math.inf):
        problem = f"must be at least {_LOWER[name]:g}"
    else:
        return
    raise BadRequest(f"{name} is {value:g} and {problem}.", pointer=pointer or f"/{name}")


def disposal(plant: Plant, duty: str) -> Disposal:
    """Steps for a prohibited plant that is already in hand, beside the law's duty in the words it
    was found.

    Containment never turns a prohibited plant into one that may be kept, so none is designed.
    """
    heap = coefficients()["heap_distance"].span().text()
    steps = (
        "Do not plant, sell, give away, ship or move it; moving it may itself be an offence.",
        (
            "Leave it where it is, hold the outlet shut or screened, and ask the state authority "
            "before touching it."
        ),
        (
            "Where the authority tells you to take it out: bag every piece, roots, runners, buds "
            "and seed heads, on the spot."
        ),
        (
            f"Dispose of it as the authority says; nothing of it goes within {heap} of water, "
            "onto a compost heap or down a drain."
        ),
        "Clean, drain and dry tools, boots, nets and boats before they go to other water.",
        "Look again monthly for a season: pieces, tubers and seed grow back.",
    )
    reporting = (
        (
            "Report it to the state's agriculture or natural resources agency, with place, date, "
            "photographs and where it came from."
        ),
        "Keep the label, invoice and seller's name; plant inspectors trace the shipment with them.",
    )
    return Disposal(plant.plant_id, plant.accepted_name, duty, steps, reporting, COMMON_PRACTICE)


def design(
    plant: Plant, place: Place, position: Position, climate: Climate, request: ContainmentRequest
) -> ContainmentPlan:
    """Choose the measures against the plant's ways out, work each out, and put those that hold
    most first.

    Nothing is computed from a fact that is missing; each measure gives the part of its design that
    can be given and lists the rest. A prohibited plant gets disposal and no measure.

    Raises:
        UnknownValue: a foam that is not in the data file.
        BadRequest: a figure that no design can use, or a first frost that is not a month and day.
    """
    check_request(request, place)
    if request.prohibited:
        return _prohibited(plant, place, request)
    gaps = Gaps()
    if plant.traits.growth_form is None:
        gaps.note("plant.growth_form", "which measures suit it")
    ways = ways_out(plant, place, gaps)
    measures: list[Measure] = []
    for rule in rules_for(plant, place, position, climate):
        held = held_by(rule, ways)
        if held:
            case = Case(
                plant, place, position, climate, request, rule.kind, rule.title, held, rule.limits
            )
            measures.append(DESIGNERS[rule.kind](case))
    measures.sort(key=_most_held_first)
    unheld = _unheld(measures, ways)
    verdict = _verdict(plant, ways, measures, unheld)
    return ContainmentPlan(
        plant_id=plant.plant_id,
        place=place.name,
        verdict=verdict,
        statement=_statement(plant, verdict, measures, unheld) + _on_the_law(request),
        measures=tuple(measures),
        ways_out=ways,
        unheld=unheld,
        missing=_all_missing(gaps.result(), measures),
        drifts_off=_drifts_off(plant, ways),
        holding=holding_clause(measures, unheld),
    )


def _prohibited(plant: Plant, place: Place, request: ContainmentRequest) -> ContainmentPlan:
    statement = (
        f"{plant.accepted_name} is prohibited by the law found here. No containment makes "
        "that good, so none is designed; "
        "dispose of it and report it as the authority says."
    )
    return ContainmentPlan(
        plant.plant_id,
        place.name,
        "prohibited",
        statement,
        measures=(),
        ways_out=(),
        unheld=(),
        missing=(),
        disposal=disposal(plant, request.duty),
    )


def _most_held_first(measure: Measure) -> tuple[int, int]:
    strengths = [effect.strength for effect in measure.held]
    return -strengths.count("holds"), -strengths.count("slows")


def _unheld(measures: list[Measure], ways: tuple[WayOut, ...]) -> tuple[WayOut, ...]:
    held = {
        effect.way_out
        for measure in measures
        for effect in measure.held
        if effect.strength == "holds"
    }
    return tuple(way for way in ways if way not in held)


def _verdict(
    plant: Plant, ways: tuple[WayOut, ...], measures: list[Measure], unheld: tuple[WayOut, ...]
) -> Verdict:
    if not ways:
        return "no-way-out-stated"
    if _drifts_off(plant, ways) or len(unheld) == len(ways):
        return "nothing-holds"
    return "partly-held" if unheld else "each-way-met"


def _drifts_off(plant: Plant, ways: tuple[WayOut, ...]) -> bool:
    """A submerged plant that grows from fragments, in water that has or may have an outlet."""
    if plant.traits.growth_form not in (None, "submerged"):
        return False
    return any(way.way == "fragment" and way.route == "outlet" for way in ways)


def _statement(
    plant: Plant, verdict: Verdict, measures: list[Measure], unheld: tuple[WayOut, ...]
) -> str:
    """One sentence in the words of the trade: what holds it, and what that leaves."""
    name = plant.accepted_name
    if verdict == "no-way-out-stated":
        return f"Closed: {name} has no way out as stated; look again after storms and floods."
    clause = holding_clause(measures, unheld)
    if verdict == "each-way-met":
        return f"{_begun(clause)}: every way out of {name} is met, as long as that is kept up."
    if verdict == "nothing-holds":
        rest = f" At most, {clause}." if clause else ""
        return f"Nothing holds {name} here: {leaving(unheld)}.{rest}"
    return f"{_begun(clause)}."


def _begun(clause: str) -> str:
    return clause[:1].upper() + clause[1:]


def _on_the_law(request: ContainmentRequest) -> str:
    if request.prohibited is not None:
        return ""
    return " Whether the law prohibits it was not said; if it does, none of this applies."


def _all_missing(of_site: tuple[Missing, ...], measures: list[Measure]) -> tuple[Missing, ...]:
    """Each missing fact once, with everything that waits for it."""
    by_field: dict[str, Missing] = {}
    for missing in (*of_site, *(fact for measure in measures for fact in measure.missing)):
        earlier = by_field.get(missing.field)
        if earlier is None:
            by_field[missing.field] = missing
        elif missing.needed_for not in earlier.needed_for:
            needed_for = f"{earlier.needed_for}; {missing.needed_for}"
            by_field[missing.field] = Missing(
                missing.field, missing.fact, needed_for, missing.look_up
            )
    return tuple(by_field.values())
