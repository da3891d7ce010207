"""What wind, waves and its own load do to a foam island."""

from dataclasses import dataclass

from service.containment import buoyancy
from service.containment.case import Case, Gaps, at_most
from service.containment.island_layout import Layout
from service.containment.parameters import coefficients
from service.containment.values import Check, Figure
from service.values.quantities import Quantity
from service.values.workings import WORKED_OUT, Given

ARCHIMEDES = "Archimedes' principle"


METACENTRE = "initial stability of a floating body, GM = KB + I/V - KG"


@dataclass(frozen=True, slots=True)
class Slab:
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


def wind_load(
    case: Case,
    gaps: Gaps,
    slab: Slab,
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
    case: Case, gaps: Gaps, slab: Slab, draft_m: float, wind_n: float, figures: list[Figure]
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


def trimmed(case: Case, gaps: Gaps, figures: list[Figure]) -> tuple[str, ...]:
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
