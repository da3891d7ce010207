"""Pots and tubs: volume and saturated weight."""

import math


def tapered_volume_l(rim_diameter_cm: float, base_diameter_cm: float, height_cm: float) -> float:
    """Volume of a round pot: pi h (D^2 + D d + d^2) / 12, the frustum of a cone (geometry)."""
    squares = rim_diameter_cm**2 + rim_diameter_cm * base_diameter_cm + base_diameter_cm**2
    return math.pi * height_cm * squares / 12 / 1000


def diameter_at(rim: float, base: float, height: float, below_rim: float) -> float:
    """Diameter of a tapered pot at a depth below its rim, all in one unit (similar triangles).

    >>> diameter_at(20, 16, 18, 9)
    18.0
    """
    return rim - (rim - base) * below_rim / height


def saturated_mass_kg(
    volume_l: float, saturated_kg_m3: float, plant_kg: float, shell_kg_per_l: float
) -> float:
    """Mass of a full pot as it is lifted out, before it drains: soil with its pores full, plant
    and pot.
    """
    return volume_l / 1000 * saturated_kg_m3 + plant_kg + volume_l * shell_kg_per_l


def apparent_mass_under_water_kg(
    volume_l: float, saturated_kg_m3: float, under_water_share: float
) -> float:
    """What soil weighs while a share of the pot is under water: full above, less the water
    displaced below.
    """
    return volume_l / 1000 * (saturated_kg_m3 - 1000 * under_water_share)
