"""Values of a containment design: what is asked, each measure worked out, the plan."""

from dataclasses import dataclass
from typing import Literal

from service.values.plants import Provenance
from service.values.quantities import Quantity
from service.values.site import ExitRoute
from service.values.vocabulary import MeasureKind, PlantId, SpreadMode
from service.values.workings import Given, Missing

Strength = Literal["holds", "slows", "does-not-hold"]
Verdict = Literal["prohibited", "nothing-holds", "partly-held", "each-way-met", "no-way-out-stated"]
SpillwayKind = Literal["broad-crested", "sharp-crested", "v-notch-90"]
ScreenKind = Literal["mesh", "bars"]
Lift = Literal["one person", "two people", "equipment"]


@dataclass(frozen=True, slots=True)
class CoverPart:
    """A part of the catchment under one curve number.

    Attributes:
        curve_number: of the whole part; with ``impervious_share``, of the ground that is not
            sealed.
        impervious_share: sealed share of the part, where the curve number does not count it yet.
        unconnected_share: share of the sealed ground that drains over open ground; counts below 30%
            sealed.
    """

    area_m2: float
    curve_number: float
    impervious_share: float | None = None
    unconnected_share: float | None = None


@dataclass(frozen=True, slots=True)
class ContainmentRequest:
    """What the designer knows or wants; ``None`` has not been said and is never filled in.

    Attributes:
        prohibited: whether the law found here prohibits the plant; then no containment is designed.
        duty: the words of the law's duty, carried into disposal and autumn removal.
        count: plants of this kind.
        pot_volume_l: of one pot or tub; ``position.container_volume_l`` if not given.
        pot_diameter_cm, pot_base_diameter_cm, pot_height_cm: at the rim, at the base, outside.
        plant_mass_kg: of one plant at full growth, wet.
        barrier_perimeter_m: round the bed.
        island_length_m, island_width_m: of one foam island; the width is the shorter side.
        foam: a name of ``parameters.foams``.
        foam_thickness_mm: where the slab is already chosen.
        design_wind_m_s: gust at plant height.
        current_m_s: of the water at the planting.
        water_level_range_cm: between lowest and highest water.
        overhang_limit_cm: how far growth may reach beyond the edge.
        outlet_design_flow_l_s: the flow that the screen must pass; ``place.outlet_flow_l_s`` if
            not given.
        outlet_pipe_diameter_mm, outlet_pipe_head_cm: an outlet pipe, and water above its centre,
            where the flow is unknown.
        screen_opening_mm, screen_bar_mm: clear opening, and wire or bar thickness.
        screen_water_depth_cm: of the water that stands against the screen.
        screen_angle_deg: from the horizontal.
        screen_head_cm: how far the water may rise at a half-blocked screen.
        drift_kg_day: wet plant litter that reaches the screen.
        storm_depth_mm, storm_return_years: rainfall of the design storm, and how rare it is.
        catchment_area_m2: ground that drains to the pond, the pond left out; 0 for a pond above its
            surroundings.
        curve_number: NRCS curve number of the catchment; or ``cover_parts``.
        freeboard_cm: from ordinary water level to where water first leaves.
        bank_slope: horizontal to vertical above the water line, 0 for upright walls.
        spillway, spillway_length_m, bank_above_crest_cm: the way the overflow takes.
        rain_intensity_mm_h, runoff_coefficient: for the peak flow by the rational method.
        wanted_cover_share, planted_cover_share: of the water surface, 0 to 1.
        doubling_days: low and high; the plant's own if not given.
        season_days: of growth in a year.
        fresh_mass_kg_m2: of closed cover.
    """

    prohibited: bool | None = None
    duty: str = ""
    count: int | None = None
    pot_volume_l: float | None = None
    pot_diameter_cm: float | None = None
    pot_base_diameter_cm: float | None = None
    pot_height_cm: float | None = None
    plant_mass_kg: float | None = None
    barrier_perimeter_m: float | None = None
    island_length_m: float | None = None
    island_width_m: float | None = None
    foam: str | None = None
    foam_thickness_mm: float | None = None
    design_wind_m_s: float | None = None
    current_m_s: float | None = None
    water_level_range_cm: float | None = None
    overhang_limit_cm: float | None = None
    outlet_design_flow_l_s: float | None = None
    outlet_pipe_diameter_mm: float | None = None
    outlet_pipe_head_cm: float | None = None
    screen: ScreenKind | None = None
    screen_opening_mm: float | None = None
    screen_bar_mm: float | None = None
    screen_water_depth_cm: float | None = None
    screen_angle_deg: float | None = None
    screen_head_cm: float | None = None
    drift_kg_day: float | None = None
    storm_depth_mm: float | None = None
    storm_return_years: float | None = None
    catchment_area_m2: float | None = None
    curve_number: float | None = None
    cover_parts: tuple[CoverPart, ...] = ()
    freeboard_cm: float | None = None
    bank_slope: float | None = None
    spillway: SpillwayKind | None = None
    spillway_length_m: float | None = None
    bank_above_crest_cm: float | None = None
    rain_intensity_mm_h: float | None = None
    runoff_coefficient: float | None = None
    wanted_cover_share: float | None = None
    planted_cover_share: float | None = None
    doubling_days: tuple[float, float] | None = None
    season_days: float | None = None
    fresh_mass_kg_m2: float | None = None


@dataclass(frozen=True, slots=True)
class Figure:
    """One worked figure: what went in, the formula in words and signs, what came out, where the
    formula stands.
    """

    name: str
    formula: str
    inputs: tuple[Given, ...]
    result: Quantity
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """A figure compared with a limit.

    Attributes:
        margin: how far the found value stands on the good side of the limit; below zero it fails.
    """

    name: str
    found: Quantity
    limit: Quantity
    passes: bool
    margin: Quantity
    known: Provenance
    if_not: str = ""


@dataclass(frozen=True, slots=True)
class WayOut:
    """A way of spreading by an exit route.

    ``stated`` is False where nobody has said whether the route is open.
    """

    way: SpreadMode
    route: ExitRoute
    stated: bool


@dataclass(frozen=True, slots=True)
class Held:
    """How well one measure holds one way out."""

    way_out: WayOut
    strength: Strength


@dataclass(frozen=True, slots=True)
class TubSection:
    """Upright section through a pot or tub, cm."""

    rim_diameter_cm: float
    base_diameter_cm: float
    height_cm: float
    soil_depth_cm: float
    water_over_rim_cm: float | None
    plant_height_cm: float | None


@dataclass(frozen=True, slots=True)
class BarrierSection:
    """Upright section through a root barrier, cm and mm."""

    depth_cm: float
    above_ground_cm: float
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class IslandSection:
    """Section across a foam island, and its plan. The section runs along the width.

    Attributes:
        draft_m, freeboard_m: at full growth with the foam's long-term water uptake.
        rim_above_m: of a pot, above the deck.
        rows, columns: places for holes across the width and along the length, ``pitch_m`` from
            centre to centre; ``count`` of them are cut, one a pot.
    """

    length_m: float
    width_m: float
    thickness_m: float
    draft_m: float
    freeboard_m: float
    pot_diameter_m: float
    pot_base_m: float
    pot_height_m: float
    rim_above_m: float
    hole_diameter_m: float
    count: int
    rows: int
    columns: int
    pitch_m: float
    plant_height_m: float
    water_depth_m: float | None
    gravity_centre_m: float | None
    metacentre_m: float | None


@dataclass(frozen=True, slots=True)
class RingSection:
    """Plan and section of a floating ring, m."""

    diameter_m: float
    skirt_draft_m: float
    wall_above_water_m: float


@dataclass(frozen=True, slots=True)
class ScreenSection:
    """Section through an outlet screen and its openings."""

    width_m: float
    wetted_height_m: float
    water_depth_m: float
    angle_deg: float
    opening_mm: float
    bar_mm: float
    clean_loss_m: float
    half_blocked_loss_m: float


@dataclass(frozen=True, slots=True)
class FreeboardSection:
    """Section through the pond's rim, cm above ordinary water."""

    rise_cm: float | None
    freeboard_cm: float
    bank_slope: float
    head_over_crest_cm: float | None
    bank_above_crest_cm: float | None


Section = (
    TubSection | BarrierSection | IslandSection | RingSection | ScreenSection | FreeboardSection
)


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure, worked out as far as the given facts go.

    Attributes:
        held: how well it holds each way out that it acts on; ways out not named are not held.
        limits: what it does not hold, in words.
        steps: what to do, and how often.
        missing: facts without which the rest of the design is not worked out.
        section: for a drawing to scale; None until every dimension of it is known.
    """

    kind: MeasureKind
    title: str
    held: tuple[Held, ...]
    limits: tuple[str, ...]
    figures: tuple[Figure, ...] = ()
    checks: tuple[Check, ...] = ()
    steps: tuple[str, ...] = ()
    missing: tuple[Missing, ...] = ()
    section: Section | None = None

    @property
    def passes(self) -> bool | None:
        """Whether every check passes; None while facts are missing or nothing is checked."""
        if any(not check.passes for check in self.checks):
            return False
        return None if self.missing or not self.checks else True


@dataclass(frozen=True, slots=True)
class Disposal:
    """What to do with a plant that the law prohibits. Nothing is said of containment then."""

    plant_id: PlantId
    accepted_name: str
    duty: str
    steps: tuple[str, ...]
    reporting: tuple[str, ...]
    known: Provenance


@dataclass(frozen=True, slots=True)
class ContainmentPlan:
    """The measures for one plant in one place, those that hold most first.

    Attributes:
        ways_out: every way of spreading by every route that is open or may be.
        unheld: ways out that no measure here is designed to hold; slowing is not holding.
        drifts_off: it breaks into living pieces under water and the water leaves, so that another
            plant is the answer.
        holding: what holds it and what to do, as one clause in the trade's words; empty where
            nothing is designed.
    """

    plant_id: PlantId
    place: str
    verdict: Verdict
    statement: str
    measures: tuple[Measure, ...]
    ways_out: tuple[WayOut, ...]
    unheld: tuple[WayOut, ...]
    missing: tuple[Missing, ...]
    drifts_off: bool = False
    holding: str = ""
    disposal: Disposal | None = None
