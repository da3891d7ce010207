"""Dimensions agree: a formula at another scale gives its result at that scale.

Froude's similarity: with gravity and densities kept, lengths go with s, times with s^(1/2), masses
and forces with s^3. A formula in which the dimensions do not agree fails it at every scale but one.
"""

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.containment import buoyancy, containers, hydraulics, hydrology

LENGTH, AREA, VOLUME, VELOCITY, FLOW, FORCE, MOMENT, MASS, SECOND, NONE = (
    1,
    2,
    3,
    0.5,
    2.5,
    3,
    4,
    3,
    4,
    0,
)
"""Power of the scale with which each kind of quantity goes; SECOND is a second moment of area."""

FORMULAS: dict[str, tuple[Callable[..., float], list[tuple[float, float]], float]] = {
    "head over a weir": (
        lambda flow, length: hydraulics.head_over_weir_m(flow, length, 1.84),
        [(0.5, FLOW), (2, LENGTH)],
        LENGTH,
    ),
    "orifice": (
        lambda width, head: hydraulics.orifice_m3_s(width, head, 0.6),
        [(0.1, LENGTH), (1.5, LENGTH)],
        FLOW,
    ),
    "screen area": (hydraulics.screen_area_m2, [(0.01, FLOW), (0.06, VELOCITY)], AREA),
    "mesh": (hydraulics.mesh_open_share, [(5, LENGTH), (1.6, LENGTH)], NONE),
    "bars": (hydraulics.bar_open_share, [(5, LENGTH), (1.6, LENGTH)], NONE),
    "rack area": (
        lambda flow, speed, gap, bar: hydraulics.rack_gross_area_m2(flow, speed, gap, bar, 60, 0.8),
        [(3, FLOW), (1, VELOCITY), (70, LENGTH), (12, LENGTH)],
        AREA,
    ),
    "Kirschmer": (
        lambda bar, gap, speed: hydraulics.kirschmer_loss_m(2.42, bar, gap, speed, 70),
        [(10, LENGTH), (25, LENGTH), (0.6, VELOCITY)],
        LENGTH,
    ),
    "bar rack loss": (
        lambda slot, speed: hydraulics.bar_rack_loss_m(slot, speed, 0.7),
        [(0.9, VELOCITY), (0.6, VELOCITY)],
        LENGTH,
    ),
    "fine screen loss": (
        lambda flow, area: hydraulics.fine_screen_loss_m(flow, area, 0.6),
        [(0.01, FLOW), (0.1, AREA)],
        LENGTH,
    ),
    "stored volume": (
        lambda rise, area: hydrology.stored_volume_m3(rise, area, 2),
        [(0.3, LENGTH), (100, AREA)],
        VOLUME,
    ),
    "rise": (
        lambda volume, area: hydrology.water_rise_m(volume, area, 2),
        [(30, VOLUME), (100, AREA)],
        LENGTH,
    ),
    "foam thickness": (
        lambda load, free, deck, top, base, reach, mass: buoyancy.foam_thickness_m(
            load, free, deck, buoyancy.HangingPot(top, base, reach), 12, mass, 800
        ),
        [
            (156, MASS),
            (0.05, LENGTH),
            (2.1, AREA),
            (0.196, LENGTH),
            (0.16, LENGTH),
            (0.16, LENGTH),
            (132, MASS),
        ],
        LENGTH,
    ),
    "draft": (
        lambda mass, deck, thick, top, base, reach: buoyancy.draft_m(
            mass, deck, thick, buoyancy.HangingPot(top, base, reach), 12
        ),
        [
            (165, MASS),
            (2.1, AREA),
            (0.15, LENGTH),
            (0.196, LENGTH),
            (0.16, LENGTH),
            (0.16, LENGTH),
        ],
        LENGTH,
    ),
    "waterplane": (buoyancy.waterplane_moment_m4, [(2, LENGTH), (1.2, LENGTH)], SECOND),
    "metacentric height": (
        buoyancy.metacentric_height_m,
        [(0.29, SECOND), (0.17, VOLUME), (0.03, LENGTH), (0.1, LENGTH)],
        LENGTH,
    ),
    "wind force": (
        lambda area, wind: buoyancy.wind_force_n(area, wind, 1.2, 1.225),
        [(0.5, AREA), (20, VELOCITY)],
        FORCE,
    ),
    "current force": (
        lambda area, speed: buoyancy.current_force_n(area, speed, 1.2),
        [(0.5, AREA), (0.2, VELOCITY)],
        FORCE,
    ),
    "heel": (buoyancy.heel_deg, [(45, MOMENT), (165, MASS), (1.4, LENGTH)], NONE),
    "edge under": (buoyancy.edge_under_deg, [(0.085, LENGTH), (1.2, LENGTH)], NONE),
    "anchor": (lambda pull: buoyancy.anchor_mass_kg(pull, 0.5, 2400), [(265, FORCE)], MASS),
    "pot volume": (containers.tapered_volume_l, [(30, LENGTH), (24, LENGTH), (28, LENGTH)], VOLUME),
    "pot under water": (
        lambda volume: containers.apparent_mass_under_water_kg(volume, 1900, 0.5),
        [(10, VOLUME)],
        MASS,
    ),
}


@pytest.mark.parametrize("name", FORMULAS)
@given(scale=st.floats(0.1, 10))
@settings(max_examples=10)
def test_the_formula_keeps_its_shape_at_every_scale(name: str, scale: float) -> None:
    formula, inputs, power = FORMULAS[name]
    model = formula(*(value for value, _ in inputs))
    prototype = formula(*(value * scale**exponent for value, exponent in inputs))
    assert prototype == pytest.approx(model * scale**power, rel=1e-9)
