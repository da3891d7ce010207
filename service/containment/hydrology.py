"""Storm runoff and how often a storm comes.

Curve-number runoff: USDA NRCS, Urban Hydrology for Small Watersheds, Technical Release 55, June
1986, chapter 2, equations 2-1 to 2-4, in SI. Rational method: Schwab et al., Soil and Water
Conservation Engineering, 4th edition, equation 4.1, in SI.
"""

import math
from collections.abc import Sequence

INITIAL_ABSTRACTION_RATIO = 0.2
"""Ia / S of TR-55 equation 2-2."""

IMPERVIOUS_CURVE_NUMBER = 98.0
"""TR-55 table 2-2a: paved lots, roofs, driveways."""


def potential_retention_mm(curve_number: float) -> float:
    """S, potential maximum retention after runoff begins, mm: 25400/CN - 254 (TR-55 eq. 2-4 in SI).

    Raises:
        ValueError: a curve number outside (0, 100].
    """
    if not 0 < curve_number <= 100:
        raise ValueError(f"a curve number lies above 0 and at most at 100: {curve_number}")
    return 25_400 / curve_number - 254


def runoff_depth_mm(rainfall_mm: float, curve_number: float) -> float:
    """Q, runoff depth, mm: (P - 0.2 S)^2 / (P + 0.8 S) where P > 0.2 S, else 0 (TR-55 eq. 2-3)."""
    if rainfall_mm < 0:
        raise ValueError(f"rain cannot be below zero: {rainfall_mm} mm")
    retention_mm = potential_retention_mm(curve_number)
    excess_mm = rainfall_mm - INITIAL_ABSTRACTION_RATIO * retention_mm
    if excess_mm <= 0:
        return 0.0
    return excess_mm**2 / (excess_mm + retention_mm)


def weighted_curve_number(parts: Sequence[tuple[float, float]]) -> float:
    """Area-weighted curve number of (area, curve number) pairs, areas in one unit (TR-55
    worksheet 2).
    """
    total = sum(area for area, _ in parts)
    if total <= 0:
        raise ValueError("a weighted curve number needs parts with an area above zero")
    return sum(area * number for area, number in parts) / total


def connected_curve_number(pervious_curve_number: float, impervious_share: float) -> float:
    """Composite curve number with all impervious area connected: CNp + p (98 - CNp) (TR-55
    figure 2-3).
    """
    return pervious_curve_number + impervious_share * (
        IMPERVIOUS_CURVE_NUMBER - pervious_curve_number
    )


def unconnected_curve_number(
    pervious_curve_number: float, impervious_share: float, unconnected_share: float
) -> float:
    """Composite curve number where a share of the impervious area drains over pervious ground.

    CNp + p (98 - CNp)(1 - 0.5 R), for a total impervious share below 0.30 (TR-55 figure 2-4).
    """
    if impervious_share >= 0.30:
        raise ValueError(
            "figure 2-4 of TR-55 holds for impervious shares below 0.30; use the connected one"
        )
    rise = impervious_share * (IMPERVIOUS_CURVE_NUMBER - pervious_curve_number)
    return pervious_curve_number + rise * (1 - 0.5 * unconnected_share)


def composite_curve_number(
    pervious_curve_number: float, impervious_share: float | None, unconnected_share: float | None
) -> float:
    """Curve number of ground that is sealed in part: all connected unless a share is known to
    drain over open ground.
    """
    if not impervious_share:
        return pervious_curve_number
    if unconnected_share and impervious_share < 0.30:
        return unconnected_curve_number(pervious_curve_number, impervious_share, unconnected_share)
    return connected_curve_number(pervious_curve_number, impervious_share)


def rational_peak_m3_s(runoff_coefficient: float, intensity_mm_h: float, area_ha: float) -> float:
    """Peak runoff, m3/s: C i A / 360 with i in mm/h over the time of concentration and A in
    hectares.
    """
    return runoff_coefficient * intensity_mm_h * area_ha / 360


def storm_volume_m3(
    rainfall_mm: float, pond_area_m2: float, catchment_area_m2: float, curve_number: float | None
) -> float:
    """Water that a storm brings: all rain on the pond itself, runoff from the ground that drains to
    it.

    ``curve_number`` may be None only for a catchment of no area.
    """
    direct_m3 = rainfall_mm / 1000 * pond_area_m2
    if catchment_area_m2 == 0 or curve_number is None:
        return direct_m3
    return direct_m3 + runoff_depth_mm(rainfall_mm, curve_number) / 1000 * catchment_area_m2


def water_rise_m(volume_m3: float, pond_area_m2: float, bank_slope: float = 0.0) -> float:
    """Rise of the water level that stores ``volume_m3`` over a round pond.

    ``bank_slope`` is horizontal to vertical, 0 for upright walls. With slope z and radius r the
    stored volume at rise h is pi ((r + z h)^3 - r^3) / (3 z), the volume of a truncated cone.
    """
    if bank_slope == 0:
        return volume_m3 / pond_area_m2
    radius_m = math.sqrt(pond_area_m2 / math.pi)
    return (math.cbrt(radius_m**3 + 3 * bank_slope * volume_m3 / math.pi) - radius_m) / bank_slope


def stored_volume_m3(rise_m: float, pond_area_m2: float, bank_slope: float = 0.0) -> float:
    """Volume stored by a rise of the water level; the inverse of ``water_rise_m``."""
    if bank_slope == 0:
        return rise_m * pond_area_m2
    radius_m = math.sqrt(pond_area_m2 / math.pi)
    return math.pi * ((radius_m + bank_slope * rise_m) ** 3 - radius_m**3) / (3 * bank_slope)


def largest_storm_held_mm(
    storage_m3: float, pond_area_m2: float, catchment_area_m2: float, curve_number: float | None
) -> float:
    """Rainfall that just fills ``storage_m3``. Rain on the pond alone bounds it from above."""
    upper_mm = storage_m3 / pond_area_m2 * 1000

    def surplus_m3(rainfall_mm: float) -> float:
        return (
            storm_volume_m3(rainfall_mm, pond_area_m2, catchment_area_m2, curve_number) - storage_m3
        )

    if storage_m3 <= 0:
        return 0.0
    if surplus_m3(upper_mm) <= 1e-9 * storage_m3:
        return upper_mm
    # SciPy's solvers take long to import, and only a storm's depth needs one.
    from scipy.optimize import brentq

    return float(brentq(surplus_m3, 0.0, upper_mm, xtol=1e-6))


def chance_over_years(return_period_years: float, years: int) -> float:
    """Chance that a storm of this return period or larger comes at least once: 1 - (1 - 1/T)^n.

    Source: the binomial risk of Chow, Maidment and Mays, Applied Hydrology, 1988, section 12.1
        (from memory).
    """
    if return_period_years < 1:
        raise ValueError(f"a return period is at least one year: {return_period_years}")
    return float(1 - (1 - 1 / return_period_years) ** years)
