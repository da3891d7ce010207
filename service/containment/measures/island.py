"""Foam island: foam by Archimedes, freeboard, tipping, holes, moorings, growth beyond the edge."""

from service.containment import buoyancy
from service.containment.case import Case, Gaps, at_least, at_most, no_better_than
from service.containment.island_layout import Layout, lay_out
from service.containment.measures.island_forces import (
    ARCHIMEDES,
    METACENTRE,
    Slab,
    trimmed,
    wind_load,
)
from service.containment.measures.pots import pot_load
from service.containment.parameters import coefficients, foams
from service.containment.values import Check, Figure, IslandSection, Measure
from service.errors import UnknownValue
from service.values.quantities import Quantity
from service.values.workings import BY_USER, WORKED_OUT, Coefficient, Given


def foam_island(case: Case) -> Measure:
    """A slab of foam with pots let into it, moored in still water."""
    gaps = Gaps()
    figures: list[Figure] = []
    checks: list[Check] = []
    layout = lay_out(case, gaps, figures, checks)
    _site_checks(case, gaps, layout, checks)
    slab = _slab(case, gaps, layout, figures)
    section = None
    if slab is not None:
        section = _float(case, gaps, slab, figures, checks)
    trim = trimmed(case, gaps, figures)
    steps = (
        (
            "Cut one hole a pot and no more; an empty hole lets water and mud onto the deck. "
            f"{_set_pots(layout)}"
        ),
        "Spread the pots evenly from the middle outward, and weigh a grown pot before the season.",
        (
            "Cover bare foam against sun, birds and gnawing animals; foam crumbs are litter in "
            "the water."
        ),
        *trim,
        *_grazing(case),
    )
    sound = bool(checks) and all(check.passes for check in checks) and section is not None
    held = case.held if sound else no_better_than(case.held, "slows")
    return case.measure(figures, checks, steps, gaps.result(), held=held, section=section)


def _set_pots(layout: Layout | None) -> str:
    if layout is None or not layout.rim_above_m:
        return "Each hangs by its rim."
    above = Quantity.exact(layout.rim_above_m * 100, "cm").text()
    return f"Each wedges in its hole with its rim {above} above the deck."


def _site_checks(case: Case, gaps: Gaps, layout: Layout | None, checks: list[Check]) -> None:
    depth_cm = gaps.need("place.depth_cm", case.place.depth_cm, "whether roots reach the bed")
    least = coefficients()["island_water_depth"]
    if depth_cm is not None:
        checks.append(
            at_least(
                "water under the island",
                depth_cm / 100,
                least.value,
                "m",
                least.known,
                "Roots take hold of the bed; lift and cut them.",
            )
        )
    area_m2 = gaps.need("place.area_m2", case.place.area_m2, "share of the pond under the island")
    most = coefficients()["island_cover_most"]
    if area_m2 and layout is not None:
        share = layout.length_m * layout.width_m / area_m2
        checks.append(
            at_most(
                "share of the pond under the island",
                share,
                most.value,
                "share",
                most.known,
                "Make the island smaller.",
            )
        )


def _slab(case: Case, gaps: Gaps, layout: Layout | None, figures: list[Figure]) -> Slab | None:
    count = gaps.need("count", case.request.count, "load of the island")
    foam_name = gaps.need("foam", case.request.foam, "foam volume and thickness")
    height = gaps.need("plant.height_cm", case.plant.traits.height_cm, "tipping by the wind")
    load = pot_load(case, gaps)
    foam = None if foam_name is None else _foam(foam_name)
    if load is not None:
        figures.append(load.figure)
    if (
        layout is None
        or count is None
        or count == 0
        or foam is None
        or load is None
        or not load.with_plant
    ):
        return None
    plant_kg = case.request.plant_mass_kg or 0.0
    load_kg = count * load.high_kg
    pots_kg = load_kg - count * plant_kg
    needed_m = _thickness_m(layout, count, load_kg, pots_kg, foam, figures)
    stated_mm = case.request.foam_thickness_mm
    step = coefficients()["board_step"].value
    boards_m = -(-round(needed_m / step, 6) // 1) * step
    thickness_m = boards_m if stated_mm is None else stated_mm / 1000
    volume_m3 = thickness_m * layout.deck_area_m2(count)
    figures.append(
        Figure(
            "foam in the slab",
            "thickness x (length x width - holes)",
            (
                Given(
                    "thickness",
                    Quantity.exact(thickness_m * 1000, "mm"),
                    BY_USER if stated_mm else coefficients()["board_step"].known,
                ),
            ),
            Quantity.exact(volume_m3, "m3"),
            ("geometry",),
        )
    )
    density, uptake = foam
    uptake_kg = buoyancy.WATER_KG_M3 * uptake.high * volume_m3
    height_m = 0.0 if height is None else height.high / 100
    return Slab(
        layout,
        count,
        thickness_m,
        density.high * volume_m3,
        uptake_kg,
        pots_kg,
        count * plant_kg,
        height_m,
    )


def _thickness_m(
    layout: Layout,
    count: int,
    load_kg: float,
    pots_kg: float,
    foam: tuple[Coefficient, Coefficient],
    figures: list[Figure],
) -> float:
    density, uptake = foam
    reserve, above = coefficients()["lift_reserve"], coefficients()["island_freeboard"]
    lift = buoyancy.net_lift_kg_m3(density.high, uptake.high) * reserve.value
    counted = Quantity.exact(lift, "kg/m3")
    foam_inputs = (density.given(), uptake.given(), reserve.given())
    figures.append(
        Figure(
            "lift counted on",
            "(1000 (1 - uptake) - density) x reserve",
            foam_inputs,
            counted,
            (ARCHIMEDES, density.source, reserve.source),
        )
    )
    deck_m2 = layout.deck_area_m2(count)
    thickness_m = buoyancy.foam_thickness_m(
        load_kg, above.value, deck_m2, layout.pot, count, pots_kg, lift
    )
    inputs = (
        Given("pots and plants at full growth", Quantity.exact(load_kg, "kg"), WORKED_OUT),
        Given("deck less holes", Quantity.exact(deck_m2, "m2"), WORKED_OUT),
        Given("lift counted on", counted, WORKED_OUT),
        above.given(),
    )
    result = Quantity.exact(thickness_m * 1000, "mm")
    formula = "(load - displaced by pots + 1000 f A) / (lift A)"
    figures.append(
        Figure("foam thickness needed", formula, inputs, result, (ARCHIMEDES, above.source))
    )
    needed = Quantity.exact(thickness_m * deck_m2, "m3")
    figures.append(
        Figure("foam volume needed", "thickness x deck", inputs[1:2], needed, (ARCHIMEDES,))
    )
    return thickness_m


def _float(
    case: Case, gaps: Gaps, slab: Slab, figures: list[Figure], checks: list[Check]
) -> IslandSection:
    draft_m = slab.draft_m(slab.total_kg)
    free_m = slab.thickness_m - draft_m
    planted_m = slab.thickness_m - slab.draft_m(slab.foam_kg + slab.pots_kg)
    total = (
        Given("foam", Quantity.exact(slab.foam_kg, "kg"), WORKED_OUT),
        Given("water that the foam takes up", Quantity.exact(slab.uptake_kg, "kg"), WORKED_OUT),
        Given("pots and soil", Quantity.exact(slab.pots_kg, "kg"), WORKED_OUT),
        Given("plants at full growth", Quantity.exact(slab.plants_kg, "kg"), WORKED_OUT),
    )
    above = coefficients()["island_freeboard"]
    exact = Quantity.exact
    figures += [
        Figure(
            "draft at full growth",
            "displaced mass = all that floats",
            total,
            exact(draft_m, "m"),
            (ARCHIMEDES,),
        ),
        Figure(
            "deck above water at full growth",
            "thickness - draft",
            total,
            exact(free_m, "m"),
            (ARCHIMEDES,),
        ),
        Figure(
            "deck above water with bare pots, foam dry",
            "thickness - draft",
            (total[0], total[2]),
            exact(planted_m, "m"),
            (ARCHIMEDES,),
        ),
    ]
    checks.append(
        at_least(
            "deck above water at full growth",
            free_m,
            above.value,
            "m",
            above.known,
            "Use thicker foam or fewer pots.",
        )
    )
    metacentric = slab.metacentric_m(draft_m)
    least = coefficients()["metacentric_least"]
    figures.append(
        Figure("metacentric height", "KB + I/V - KG", total, exact(metacentric, "m"), (METACENTRE,))
    )
    checks.append(
        at_least(
            "metacentric height",
            metacentric,
            least.value,
            "m",
            least.known,
            "Make the island wider, or cut the plants lower.",
        )
    )
    if slab.plant_height_m > 0:
        wind_load(case, gaps, slab, draft_m, metacentric, figures, checks)
    layout = slab.layout
    depth_cm = case.place.depth_cm
    centre = slab.gravity_centre_m()
    return IslandSection(
        length_m=layout.length_m,
        width_m=layout.width_m,
        thickness_m=slab.thickness_m,
        draft_m=draft_m,
        freeboard_m=free_m,
        pot_diameter_m=layout.pot_diameter_m,
        pot_base_m=layout.pot_base_m,
        rim_above_m=layout.rim_above_m,
        count=slab.count,
        pot_height_m=layout.pot_height_m,
        hole_diameter_m=layout.hole_m,
        rows=layout.rows,
        columns=layout.columns,
        pitch_m=layout.pitch_m,
        plant_height_m=slab.plant_height_m,
        water_depth_m=None if depth_cm is None else depth_cm / 100,
        gravity_centre_m=centre,
        metacentre_m=centre + metacentric,
    )


def _grazing(case: Case) -> tuple[str, ...]:
    if not case.place.grazing_fish:
        return ()
    return (
        "Where koi graze, the plant covers the foam and grows little past the edge; guard the "
        "underside with mesh for its roots, and net what the fish tear off.",
    )


def _foam(name: str) -> tuple[Coefficient, Coefficient]:
    if name not in foams():
        raise UnknownValue("Foam", name, sorted(foams()), pointer="/foam")
    return foams()[name]
