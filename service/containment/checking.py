"""Figures of a request that no design can stand on, turned away with a pointer to the place."""

import math
from dataclasses import fields

from service.containment.values import ContainmentRequest
from service.errors import BadRequest
from service.values.site import Place

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
