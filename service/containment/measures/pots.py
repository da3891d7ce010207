"""Solid-wall pots and no-drain tubs: volume, saturated weight, who lifts it, the rim."""

from dataclasses import dataclass

from service.containment.case import Case, Gaps, at_least, no_better_than
from service.containment.containers import (
    apparent_mass_under_water_kg,
    saturated_mass_kg,
    tapered_volume_l,
)
from service.containment.parameters import coefficients
from service.containment.values import Check, Figure, Lift, Measure, TubSection
from service.values.growth import least_pot
from service.values.quantities import Quantity
from service.values.workings import BY_USER, Given


@dataclass(frozen=True, slots=True)
class PotLoad:
    """Mass of one full pot, low and high, and the figures that show it in air and its soil under
    water.

    ``with_plant`` is False for soil and pot alone.
    """

    low_kg: float
    high_kg: float
    figure: Figure
    under_water: Figure
    with_plant: bool


def solid_pot(case: Case) -> Measure:
    """A pot with a solid wall, set in water or ground."""
    gaps = Gaps()
    figures, checks, steps = _body(case, gaps)
    steps += ("Lift and look over the rim twice a season; cut what has rooted outside.",)
    section = _section(case, gaps, None)
    return case.measure(figures, checks, steps, gaps.result(), section=section)


def no_drain_tub(case: Case) -> Measure:
    """A tub without holes whose rim stands above the water or substrate around it."""
    gaps = Gaps()
    figures, checks, steps = _body(case, gaps)
    over_rim_cm = _water_over_rim_cm(case, gaps)
    rim = coefficients()["rim_above"]
    held = case.held
    lily = case.plant.traits.growth_form == "floating-leaved"
    if over_rim_cm is None or (lily and over_rim_cm > 0):
        held = no_better_than(held, "slows")
    else:
        above_cm = -over_rim_cm
        raise_cm = max(0.0, rim.value - above_cm)
        check = at_least(
            "rim above the water or substrate around",
            above_cm,
            rim.value,
            "cm",
            rim.known,
            (
                f"Raise the tub {Quantity.exact(raise_cm, 'cm').text()}, or stand it on its own, "
                "away from the water."
            ),
        )
        checks += (check,)
        if not check.passes:
            held = no_better_than(held, "slows")
    steps += (
        "No holes in the wall or floor; top the tub up by hand, never from an overflow that runs "
        "to other water.",
        "Its rim is under water, as leaves that float need it: lift it twice a season and cut what "
        "has grown over the rim."
        if lily and over_rim_cm is not None and over_rim_cm > 0
        else f"Keep the rim {rim.span().text()} above the gravel, soil or water around it.",
        "Trim every stem that trails over the rim.",
    )
    section = _section(case, gaps, over_rim_cm)
    return case.measure(figures, checks, steps, gaps.result(), held=held, section=section)


def pot_volume_l(case: Case) -> float | None:
    """Volume of one pot: stated, of the position, or from its measures."""
    request = case.request
    if request.pot_volume_l is not None:
        return request.pot_volume_l
    if case.position.container_volume_l is not None:
        return case.position.container_volume_l
    rim, base, height = request.pot_diameter_cm, request.pot_base_diameter_cm, request.pot_height_cm
    if rim is None or base is None or height is None:
        return None
    return tapered_volume_l(rim, base, height)


def pot_load(case: Case, gaps: Gaps) -> PotLoad | None:
    """What one full pot weighs.

    Without the plant's mass it is the pot and soil alone, and the gap is noted.
    """
    volume_l = gaps.need("pot_volume_l", pot_volume_l(case), "weight of the pot")
    soil = gaps.need("position.soil", case.position.soil, "weight of the pot")
    plant_kg = gaps.need(
        "plant_mass_kg", case.request.plant_mass_kg, "weight of the pot with its plant"
    )
    if volume_l is None or soil is None:
        return None
    density = coefficients()[f"saturated_{soil.replace('-', '_')}"]
    shell = coefficients()["pot_shell"]
    mass = plant_kg or 0.0
    low = saturated_mass_kg(volume_l, density.low, mass, shell.low)
    high = saturated_mass_kg(volume_l, density.high, mass, shell.high)
    inputs: tuple[Given, ...] = (
        Given("volume of one pot", Quantity.exact(volume_l, "L"), BY_USER),
        Given(density.name, density.span(), density.known),
        Given(shell.name, shell.span(), shell.known),
    )
    if plant_kg is not None:
        inputs += (Given.by_user("wet mass of the plant", plant_kg, "kg"),)
    name = "saturated weight of one pot" + ("" if plant_kg is not None else ", without its plant")
    formula = (
        "volume x saturated density"
        + (" + plant" if plant_kg is not None else "")
        + " + volume x pot mass"
    )
    figure = Figure(
        name, formula, inputs, Quantity(low, high, "kg"), (density.source, shell.source)
    )
    sunk = [
        apparent_mass_under_water_kg(volume_l, density_g_cm3, 1.0)
        for density_g_cm3 in (density.low, density.high)
    ]
    under_water = Figure(
        "weight of its soil under water",
        "volume x (saturated density - 1000)",
        inputs[:2],
        Quantity(sunk[0], sunk[1], "kg"),
        ("Archimedes' principle", density.source),
    )
    return PotLoad(low, high, figure, under_water, plant_kg is not None)


def lift(mass_kg: float) -> Lift:
    """Who lifts it: one person, two people, or equipment."""
    if mass_kg <= coefficients()["lift_one"].value:
        return "one person"
    return "two people" if mass_kg <= coefficients()["lift_two"].value else "equipment"


def _body(case: Case, gaps: Gaps) -> tuple[tuple[Figure, ...], tuple[Check, ...], tuple[str, ...]]:
    figures: tuple[Figure, ...] = _volume_figure(case)
    checks: tuple[Check, ...] = ()
    steps: tuple[str, ...] = ()
    volume_l = pot_volume_l(case)
    height = gaps.need("plant.height_cm", case.plant.traits.height_cm, "least size of the pot")
    if height is not None:
        least = least_pot(case.plant.traits.growth_form, height.high)
        inputs = (
            case.trait_range(
                "height_cm", "height of the plant", Quantity(height.low, height.high, "cm")
            ),
        )
        figures += (
            Figure(
                least.name, "by growth form and height class", inputs, least.span(), (least.source,)
            ),
        )
        if volume_l is not None:
            checks += (
                at_least("pot volume", volume_l, least.low, "L", least.known, "Use a larger pot."),
            )
    load = pot_load(case, gaps)
    if load is not None:
        figures += (load.figure,)
        one = coefficients()["lift_one"].given().quantity_text()
        figures += (load.under_water,)
        if load.under_water.result.low < 0:
            steps += (
                (
                    "This mix may float out under water: use heavy clay soil, or hold it down "
                    "with gravel."
                ),
            )
        steps += (
            (
                f"Lifting one full pot takes {lift(load.high_kg)}: {load.figure.result.text()}, "
                f"where one person lifts {one}."
            ),
        )
    return figures, checks, steps


def _volume_figure(case: Case) -> tuple[Figure, ...]:
    request = case.request
    rim, base, height = request.pot_diameter_cm, request.pot_base_diameter_cm, request.pot_height_cm
    if rim is None or base is None or height is None:
        return ()
    inputs = (
        Given.by_user("rim diameter D", rim, "cm"),
        Given.by_user("base diameter d", base, "cm"),
        Given.by_user("height h", height, "cm"),
    )
    volume = Quantity.exact(tapered_volume_l(rim, base, height), "L")
    return (
        Figure(
            "volume of the pot",
            "pi h (D^2 + D d + d^2) / 12",
            inputs,
            volume,
            ("frustum of a cone",),
        ),
    )


def _water_over_rim_cm(case: Case, gaps: Gaps) -> float | None:
    crown_cm = gaps.need(
        "position.crown_depth_cm", case.position.crown_depth_cm, "whether the rim stands clear"
    )
    return None if crown_cm is None else crown_cm - coefficients()["soil_below_rim"].value


def _section(case: Case, gaps: Gaps, over_rim_cm: float | None) -> TubSection | None:
    request, needed_for = case.request, "drawing of the pot to scale"
    rim = gaps.need("pot_diameter_cm", request.pot_diameter_cm, needed_for)
    base = gaps.need("pot_base_diameter_cm", request.pot_base_diameter_cm, needed_for)
    height = gaps.need("pot_height_cm", request.pot_height_cm, needed_for)
    if rim is None or base is None or height is None:
        return None
    soil_cm = max(0.0, height - coefficients()["soil_below_rim"].value)
    plant = case.plant.traits.height_cm
    return TubSection(rim, base, height, soil_cm, over_rim_cm, plant.high if plant else None)
