"""Invented plants, places and requests that the tests of this folder share."""

from dataclasses import replace

from service.containment import (
    ContainmentPlan,
    ContainmentRequest,
    Figure,
    Measure,
    design,
)
from service.values.plants import Plant, Range, Traits
from service.values.site import Climate, Place, Position
from service.values.vocabulary import MeasureKind, PlantId

CREEPER = Plant(
    PlantId("invented-creeper"),
    "Inventa repens",
    "species",
    "Inventa",
    traits=Traits(
        growth_form="emergent",
        height_cm=Range(15, 45),
        depth_cm=Range(0, 10),
        flow=("still", "slow"),
        light=("sun", "part-shade"),
        zone_min=5,
        zone_max=10,
        spread_rate="aggressive",
        spread_modes=("stolon", "rhizome", "fragment", "seed"),
        perennating_organ="stolon",
        frost_kill="top-only",
        uses=("groundcover", "edible"),
    ),
)
TALL_SEDGE = Plant(
    PlantId("invented-sedge"),
    "Inventa alta",
    "species",
    "Inventa",
    traits=Traits(
        growth_form="emergent",
        height_cm=Range(120, 300),
        depth_cm=Range(0, 60),
        flow=("still", "slow"),
        light=("sun",),
        zone_min=9,
        zone_max=11,
        spread_rate="fast",
        spread_modes=("rhizome", "seed"),
        perennating_organ="rhizome",
        frost_kill="yes",
        uses=("height-accent",),
    ),
)
FLOATER = Plant(
    PlantId("invented-floater"),
    "Inventa natans",
    "species",
    "Inventa",
    traits=Traits(
        growth_form="free-floating",
        height_cm=Range(5, 20),
        flow=("still", "slow"),
        light=("sun",),
        zone_min=9,
        zone_max=11,
        spread_rate="aggressive",
        spread_modes=("offset", "stolon", "seed"),
        doubling_days=Range(6, 18),
        frost_kill="yes",
        uses=("surface-cover",),
    ),
)
WATERWEED = Plant(
    PlantId("invented-waterweed"),
    "Inventa submersa",
    "species",
    "Inventa",
    traits=Traits(
        growth_form="submerged",
        height_cm=Range(30, 200),
        depth_cm=Range(30, 300),
        flow=("still", "slow", "moving"),
        light=("sun", "part-shade"),
        zone_min=4,
        spread_rate="fast",
        spread_modes=("fragment", "turion"),
        perennating_organ="turion",
        frost_kill="no",
        uses=("oxygenator",),
    ),
)
POND = Place(
    "Invented Mill Pond",
    "pond",
    area_m2=200,
    depth_cm=100,
    flow="still",
    light="sun",
    outlet=True,
    overflow=True,
    flood_prone=False,
    bank_contact=True,
    visited=True,
    grazing_fish=True,
    freezing_depth_cm=20,
)
CLIMATE = Climate("6b", first_frost="10-15")
ON_ISLAND = Position(crown_depth_cm=0, holding="foam-island", soil="gravel")
FULL = ContainmentRequest(
    count=12,
    pot_volume_l=5,
    pot_diameter_cm=20,
    pot_base_diameter_cm=16,
    pot_height_cm=18,
    plant_mass_kg=2,
    barrier_perimeter_m=12,
    island_length_m=2,
    island_width_m=1.2,
    foam="xps-iv",
    design_wind_m_s=20,
    current_m_s=0.05,
    water_level_range_cm=30,
    outlet_design_flow_l_s=5,
    screen_head_cm=10,
    screen_water_depth_cm=40,
    drift_kg_day=0.05,
    storm_depth_mm=100,
    storm_return_years=10,
    catchment_area_m2=1000,
    curve_number=74,
    freeboard_cm=40,
    bank_slope=0,
    spillway="broad-crested",
    spillway_length_m=2,
    bank_above_crest_cm=60,
    rain_intensity_mm_h=80,
    runoff_coefficient=0.3,
    wanted_cover_share=0.4,
    planted_cover_share=0.05,
    season_days=180,
    doubling_days=(7, 21),
)


def plan_of(
    plant: Plant = CREEPER,
    place: Place = POND,
    position: Position = ON_ISLAND,
    climate: Climate = CLIMATE,
    request: ContainmentRequest = FULL,
) -> ContainmentPlan:
    """A plan with everything said unless told otherwise."""
    return design(plant, place, position, climate, request)


def measure_of(plan: ContainmentPlan, kind: MeasureKind) -> Measure:
    """The measure of this kind in the plan."""
    return next(measure for measure in plan.measures if measure.kind == kind)


def figure_of(measure: Measure, name: str) -> Figure:
    """The figure of this name in the measure."""
    return next(figure for figure in measure.figures if figure.name == name)


def with_traits(plant: Plant, **traits: object) -> Plant:
    """The same plant with some traits changed."""
    return replace(plant, traits=replace(plant.traits, **traits))  # type: ignore[arg-type]
