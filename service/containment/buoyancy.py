"""Floating islands: foam by Archimedes, draft, stability by the metacentre, wind, current and
moorings.

Archimedes: a floating body displaces its own mass of water. Initial stability of a floating body:
    GM = KB + BM - KG with
BM = I / V, I the second moment of the waterplane about the long axis and V the displaced volume
(any text of fluid mechanics or naval architecture, such as Bansal, A Textbook of Fluid Mechanics,
chapter 4; from memory).
"""

import math
from dataclasses import dataclass

from scipy.optimize import brentq

from service.values.quantities import STANDARD_GRAVITY as G

WATER_KG_M3 = 1000.0


def net_lift_kg_m3(
    foam_density_kg_m3: float, uptake_share: float, water_kg_m3: float = WATER_KG_M3
) -> float:
    """What a cubic metre of foam carries when pressed right under: rho_w (1 - w) - rho_foam.

    ``uptake_share`` is the share of the volume that water takes up in long service.
    """
    return water_kg_m3 * (1 - uptake_share) - foam_density_kg_m3


@dataclass(frozen=True, slots=True)
class HangingPot:
    """The part of a tapered pot below the deck of an island, m: from the width of its hole at the
    deck to its base.
    """

    top_m: float
    base_m: float
    reach_m: float

    def volume_below_m3(self, depth_m: float) -> float:
        """Volume below a depth under the deck: pi h (D^2 + D d + d^2) / 12, the frustum of a cone.

        >>> round(HangingPot(0.2, 0.2, 0.1).volume_below_m3(0.0), 6)
        0.003142
        """
        height = self.reach_m - max(0.0, depth_m)
        if height <= 0:
            return 0.0
        wide = self.base_m + (self.top_m - self.base_m) * height / self.reach_m
        return math.pi * height * (wide**2 + wide * self.base_m + self.base_m**2) / 12

    def centre_below_m(self, depth_m: float) -> float:
        """Depth under the deck of the centre of that volume (frustum of a cone)."""
        start = max(0.0, depth_m)
        height = self.reach_m - start
        if height <= 0:
            return self.reach_m
        wide = self.base_m + (self.top_m - self.base_m) * height / self.reach_m
        squares = wide**2 + wide * self.base_m + self.base_m**2
        from_base = height * (self.base_m**2 + 2 * self.base_m * wide + 3 * wide**2) / squares / 4
        return start + height - from_base


def foam_thickness_m(
    load_kg: float,
    freeboard_m: float,
    deck_area_m2: float,
    pot: HangingPot,
    count: int,
    pots_mass_kg: float,
    lift_kg_m3: float,
    water_kg_m3: float = WATER_KG_M3,
) -> float:
    """Thickness of a slab with pots let into it that floats with its deck ``freeboard_m`` above the
    water.

    Balance of masses: load = lift t A - rho_w f A + displaced by pots, A the slab less its holes.
        The water that the
    pots displace counts at most as much as the pots weigh, so that light pots never replace
    foam.

    Args:
        load_kg: everything that the foam carries, pots and plants included, foam itself left out.
        deck_area_m2: of the slab less its holes.
        pot, count: one pot as it hangs, and how many.
        lift_kg_m3: of ``net_lift_kg_m3``.
    """
    if deck_area_m2 <= 0 or lift_kg_m3 <= 0:
        raise ValueError("a slab needs a deck area and foam that floats")
    displaced_kg = water_kg_m3 * count * pot.volume_below_m3(freeboard_m)
    carried_kg = load_kg - min(displaced_kg, pots_mass_kg)
    return (carried_kg + water_kg_m3 * freeboard_m * deck_area_m2) / (lift_kg_m3 * deck_area_m2)


def displaced_m3(
    freeboard_m: float, deck_area_m2: float, thickness_m: float, pot: HangingPot, count: int
) -> float:
    """Water displaced when the deck is ``freeboard_m`` above it: slab without its holes, and
    pots.
    """
    slab_m3 = deck_area_m2 * min(thickness_m, max(0.0, thickness_m - freeboard_m))
    return slab_m3 + count * pot.volume_below_m3(freeboard_m)


def draft_m(
    total_kg: float,
    deck_area_m2: float,
    thickness_m: float,
    pot: HangingPot,
    count: int,
    water_kg_m3: float = WATER_KG_M3,
) -> float:
    """How deep the slab lies: depth of its underside below the water. Above ``thickness_m`` it is
    awash; below zero the pots alone carry it.

    Archimedes: the freeboard at which the water displaced weighs as much as all that floats. Awash,
        each centimetre more counts as the deck's own area.
    """
    needed_m3 = total_kg / water_kg_m3
    full = displaced_m3(0.0, deck_area_m2, thickness_m, pot, count)
    if needed_m3 >= full:
        return thickness_m + (needed_m3 - full) / deck_area_m2
    highest = max(thickness_m, pot.reach_m)
    freeboard_m = brentq(
        lambda free: displaced_m3(free, deck_area_m2, thickness_m, pot, count) - needed_m3,
        0.0,
        highest,
        xtol=1e-9,
    )
    return thickness_m - float(freeboard_m)


def waterplane_moment_m4(length_m: float, width_m: float) -> float:
    """Second moment of a rectangular waterplane about its long axis: L B^3 / 12."""
    return length_m * width_m**3 / 12


def metacentric_height_m(
    second_moment_m4: float, displaced_m3: float, buoyancy_centre_m: float, gravity_centre_m: float
) -> float:
    """GM = KB + I/V - KG; the centres are heights above one level, such as the underside."""
    return buoyancy_centre_m + second_moment_m4 / displaced_m3 - gravity_centre_m


def wind_force_n(
    area_m2: float, wind_m_s: float, drag_coefficient: float, air_kg_m3: float
) -> float:
    """F = 0.5 rho Cd A V^2 (drag equation; at 1.225 kg/m3 the pressure is 0.613 V^2 Pa, as in
    ASCE 7).
    """
    return 0.5 * air_kg_m3 * drag_coefficient * area_m2 * wind_m_s**2


def current_force_n(area_m2: float, current_m_s: float, drag_coefficient: float) -> float:
    """F = 0.5 rho Cd A V^2 of water on the part below the surface (drag equation)."""
    return 0.5 * WATER_KG_M3 * drag_coefficient * area_m2 * current_m_s**2


def heel_deg(moment_n_m: float, total_kg: float, metacentric_m: float) -> float:
    """Heel under a steady moment, small angles: tan(phi) = M / (m g GM). GM must be above zero."""
    if metacentric_m <= 0:
        raise ValueError(
            "a body with its metacentre at or below its centre of gravity does not stand upright"
        )
    return math.degrees(math.atan(moment_n_m / (total_kg * G * metacentric_m)))


def edge_under_deg(freeboard_m: float, width_m: float) -> float:
    """Heel at which the edge of the deck goes under: tan(phi) = f / (B/2)."""
    return math.degrees(math.atan(2 * freeboard_m / width_m))


def anchor_mass_kg(
    pull_n: float, friction: float, anchor_kg_m3: float, water_kg_m3: float = WATER_KG_M3
) -> float:
    """Dry mass of a block that a level pull does not drag: F / (mu g (1 - rho_w / rho_anchor))."""
    return pull_n / (friction * G * (1 - water_kg_m3 / anchor_kg_m3))
