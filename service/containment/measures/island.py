"""Foam island: foam by Archimedes, freeboard, tipping, holes, moorings, growth beyond the edge."""

from dataclasses import dataclass

from service.containment import buoyancy
from service.containment.case import Case, Gaps, at_least, at_most, no_better_than
from service.containment.island_layout import Layout, lay_out
from service.containment.measures.pots import pot_load
from service.containment.parameters import coefficients, foams
from service.containment.values import Check, Figure, IslandSection, Measure
from service.errors import UnknownValue
from service.values.quantities import Quantity
from service.values.workings import BY_USER, WORKED_OUT, Coefficient, Given

ARCHIMEDES = "Archimedes' principle"
METACENTRE = "initial stability of a floating body, GM = KB + I/V - KG"


@dataclass(frozen=True, slots=True)
class _Slab:
    """Everything that floats, once all of it is known. Masses in kg, lengths in m."""

    layout: Layout
    count: int
    thickness_m: float
    foam_kg: float
    uptake_kg: float
    pots_kg: float
    plants_kg: float
    plant_height_m: float

    @property
    def total_kg(self) -> float:
        return self.foam_kg + self.uptake_kg + self.pots_kg + self.plants_kg

    def draft_m(self, total_kg: float) -> float:
        layout = self.layout
        return buoyancy.draft_m(
            total_kg, layout.deck_area_m2(self.count), self.thickness_m, layout.pot, self.count
        )

    def gravity_centre_m(self) -> float:
        """Height of the centre of mass above the underside of the slab; a pot's at half its
        height.
        """
        centre, layout = coefficients()["plant_mass_centre"].value, self.layout
        pots_at = self.thickness_m + layout.rim_above_m - layout.pot_height_m / 2
        moments = (
            (self.foam_kg + self.uptake_kg) * self.thickness_m / 2
            + self.pots_kg * pots_at
            + self.plants_kg * (self.thickness_m + centre * self.plant_height_m)
        )
        return moments / self.total_kg

    def buoyancy_centre_m(self, draft_m: float) -> float:
        """Height of the centre of the displaced water above the underside: the slab's part and
        the pots'.
        """
        free_m = self.thickness_m - draft_m
        slab_m3 = self.layout.deck_area_m2(self.count) * min(self.thickness_m, max(0.0, draft_m))
        pot = self.layout.pot
        pots_m3 = self.count * pot.volume_below_m3(free_m)
        pots_at = self.thickness_m - pot.centre_below_m(free_m)
        slab_at = min(self.thickness_m, max(0.0, draft_m)) / 2
        return (slab_m3 * slab_at + pots_m3 * pots_at) / (slab_m3 + pots_m3)

    def metacentric_m(self, draft_m: float) -> float:
        """GM; the waterplane counts only the foam, its second moment taken down by the share of
        the holes.
        """
        gross = self.layout.length_m * self.layout.width_m
        moment = buoyancy.waterplane_moment_m4(self.layout.length_m, self.layout.width_m)
        moment *= self.layout.deck_area_m2(self.count) / gross
        displaced = self.total_kg / buoyancy.WATER_KG_M3
        return buoyancy.metacentric_height_m(
            moment, displaced, self.buoyancy_centre_m(draft_m), self.gravity_centre_m()
        )


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
    trim = _trim(case, gaps, figures)
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
    return Measure(
        case.kind,
        case.title,
        held,
        case.limits,
        tuple(figures),
        tuple(checks),
        steps,
        gaps.result(),
        section,
    )


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


def _slab(case: Case, gaps: Gaps, layout: Layout | None, figures: list[Figure]) -> _Slab | None:
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
    return _Slab(
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
    case: Case, gaps: Gaps, slab: _Slab, figures: list[Figure], checks: list[Check]
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
        _wind(case, gaps, slab, draft_m, metacentric, figures, checks)
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


def _wind(
    case: Case,
    gaps: Gaps,
    slab: _Slab,
    draft_m: float,
    metacentric_m: float,
    figures: list[Figure],
    checks: list[Check],
) -> None:
    wind = gaps.need(
        "design_wind_m_s", case.request.design_wind_m_s, "tipping and moorings in wind"
    )
    if wind is None:
        return
    solidity, drag, air = (
        coefficients()[key] for key in ("plant_solidity", "plant_drag", "air_density")
    )
    area_m2 = slab.layout.length_m * slab.plant_height_m * solidity.value
    force_n = buoyancy.wind_force_n(area_m2, wind, drag.value, air.value)
    gust = Given.by_user("gust", wind, "m/s")
    height = case.trait_range(
        "height_cm", "height of the plants", Quantity.exact(slab.plant_height_m * 100, "cm")
    )
    figures.append(
        Figure(
            "wind force on the plants",
            "0.5 rho Cd A V^2, A = length x height x solidity",
            (gust, height, solidity.given(), drag.given(), air.given()),
            Quantity.exact(force_n, "N"),
            ("drag equation", drag.source),
        )
    )
    free_m = slab.thickness_m - draft_m
    lever_m = free_m + slab.plant_height_m / 2 + draft_m / 2
    moment = Quantity.exact(force_n * lever_m, "N m")
    force = Given("wind force", Quantity.exact(force_n, "N"), WORKED_OUT)
    figures.append(
        Figure(
            "tipping moment of the wind",
            "force x height over mid-draft",
            (force,),
            moment,
            ("statics",),
        )
    )
    if metacentric_m > 0 and free_m > 0:
        heel = buoyancy.heel_deg(moment.high, slab.total_kg, metacentric_m)
        under = buoyancy.edge_under_deg(free_m, slab.layout.width_m)
        share = coefficients()["heel_share"]
        figures.append(
            Figure(
                "heel in the gust",
                "atan(moment / (mass g GM))",
                (gust, Given("metacentric height", Quantity.exact(metacentric_m, "m"), WORKED_OUT)),
                Quantity.exact(heel, "deg"),
                (METACENTRE,),
            )
        )
        checks.append(
            at_most(
                "heel in the gust",
                heel,
                under * share.value,
                "deg",
                share.known,
                "Make the island wider, or cut the plants lower.",
            )
        )
    _mooring(case, gaps, slab, draft_m, force_n, figures)


def _mooring(
    case: Case, gaps: Gaps, slab: _Slab, draft_m: float, wind_n: float, figures: list[Figure]
) -> None:
    current = gaps.need("current_m_s", case.request.current_m_s, "moorings")
    if current is None:
        return
    drag, safety = coefficients()["slab_drag"], coefficients()["mooring_safety"]
    friction, concrete = coefficients()["anchor_friction"], coefficients()["anchor_density"]
    hang_m = max(0.0, slab.layout.pot.reach_m - slab.thickness_m)
    side_m2 = slab.layout.length_m * (max(0.0, draft_m) + hang_m)
    pull_n = (wind_n + buoyancy.current_force_n(side_m2, current, drag.value)) * safety.value
    pull = Quantity.exact(pull_n, "N")
    wind = Given("wind force", Quantity.exact(wind_n, "N"), WORKED_OUT)
    inputs = (wind, Given.by_user("current", current, "m/s"), drag.given(), safety.given())
    formula = "(wind + 0.5 rho Cd A V^2) x safety, taken by one line"
    figures.append(
        Figure("pull on one mooring line", formula, inputs, pull, ("drag equation", safety.source))
    )
    anchor = buoyancy.anchor_mass_kg(pull_n, friction.value, concrete.value)
    figures.append(
        Figure(
            "concrete block on each line",
            "pull / (mu g (1 - rho_w / rho_c))",
            (Given("pull", pull, WORKED_OUT), friction.given(), concrete.given()),
            Quantity.exact(anchor, "kg"),
            (ARCHIMEDES, friction.source),
        )
    )
    level = gaps.need(
        "water_level_range_cm", case.request.water_level_range_cm, "slack of the mooring lines"
    )
    if level is not None:
        depth_cm = (case.place.depth_cm or 0.0) + level
        lines = coefficients()["mooring_lines"]
        figures.append(
            Figure(
                "least length of each mooring line",
                "depth at high water, so that the island rises and falls",
                (Given.by_user("range of the water level", level, "cm"), lines.given()),
                Quantity.exact(depth_cm / 100, "m"),
                ("Queensland WetlandInfo, floating wetlands design summary", lines.source),
            )
        )


def _trim(case: Case, gaps: Gaps, figures: list[Figure]) -> tuple[str, ...]:
    ways = case.plant.traits.spread_modes
    if ways and not {"stolon", "runner", "fragment", "offset", "rhizome"} & set(ways):
        return ()
    rate = gaps.need(
        "plant.spread_rate", case.plant.traits.spread_rate, "how often to trim the edge"
    )
    stated = case.request.overhang_limit_cm
    limit = coefficients()["overhang"]
    allowed = (
        limit.given()
        if stated is None
        else Given.by_user("growth allowed beyond the edge", stated, "cm")
    )
    if rate is None or allowed.quantity is None:
        return ("Trim growth at the edge of the island before it reaches bed, bank or open water.",)
    creep = coefficients()[f"creep_{rate}"]
    reach_cm = allowed.quantity.low
    days = Quantity(7 * reach_cm / creep.high, 7 * reach_cm / creep.low, "days")
    inputs = (allowed, Given(creep.name, creep.span(), creep.known))
    figures.append(
        Figure(
            "days between trims of the edge",
            "growth allowed / reach",
            inputs,
            days,
            (creep.source,),
        )
    )
    season = gaps.need(
        "season_days", case.request.season_days, "how far growth reaches if nobody trims it"
    )
    if season is not None:
        reach = Quantity(creep.low * season / 700, creep.high * season / 700, "m")
        span = Given.by_user("season", season, "days")
        figures.append(
            Figure(
                "reach beyond the edge, untrimmed",
                "reach x season",
                (inputs[1], span),
                reach,
                (creep.source,),
            )
        )
    return (
        f"Trim the edge every {days.text()} in the season, and take out every piece that drops.",
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
