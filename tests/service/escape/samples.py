"""Invented places and waters for the tests of the escape model, and hypothesis strategies over
them.
"""

from dataclasses import replace
from typing import get_args

from hypothesis import strategies as st

from service.escape.values import PlannedMeasure
from service.values.evidence import RING_RADII_M, Evidence, Ring, WaterRecords
from service.values.plants import History, Plant, Range, Traits
from service.values.site import Climate, Place, Reached, Relation, Water
from service.values.vocabulary import (
    Flow,
    FrostKill,
    GrowthForm,
    Jurisdiction,
    Light,
    MeasureKind,
    Nativeness,
    PlantId,
    SpreadMode,
    SpreadRate,
    WaterId,
    WaterKind,
)

LAKE = Water(
    WaterId("mill-lake"), "Mill Lake", "lake", "still", -83.0, 40.0, states=(Jurisdiction("US-OH"),)
)
BROOK = Water(
    WaterId("mill-brook"),
    "Mill Brook",
    "stream",
    "slow",
    -83.0,
    40.0,
    states=(Jurisdiction("US-OH"),),
)
POND = Place(
    name="invented pond",
    kind="pond",
    area_m2=20.0,
    outlet=True,
    outlet_flow_l_s=1.0,
    overflow=True,
    flood_prone=False,
    bank_contact=True,
    lined=False,
    visited=True,
    surplus=False,
)


def plant_named(name: str, traits: Traits) -> Plant:
    return Plant(PlantId(name.lower()), name, "species", name.split()[0], traits=traits)


def records(
    plant: int, every: int, *, water_id: WaterId = LAKE.water_id, relation: Relation = "downstream"
) -> Evidence:
    """Records in one water and nowhere else."""
    return Evidence(
        PlantId("x"), loaded=True, waters=(WaterRecords(water_id, relation, plant, every),)
    )


def ringed(counts: list[tuple[int, int]]) -> Evidence:
    """Records by annulus (plant, every), summed outward to rings."""
    rings, plant, every = [], 0, 0
    for radius, (found, seen) in zip(RING_RADII_M, counts, strict=False):
        plant, every = plant + found, every + max(found, seen)
        rings.append(Ring(radius, plant, every))
    return Evidence(PlantId("x"), loaded=True, rings=tuple(rings))


_yes_no = st.none() | st.booleans()
places = st.builds(
    Place,
    name=st.just("p"),
    kind=st.sampled_from(("pond", "bog")),
    area_m2=st.none() | st.floats(0.1, 10_000),
    outlet=_yes_no,
    overflow=_yes_no,
    flood_prone=_yes_no,
    bank_contact=_yes_no,
    lined=_yes_no,
    visited=_yes_no,
    surplus=_yes_no,
)
full_places = st.builds(
    Place,
    name=st.just("p"),
    kind=st.sampled_from(("pond", "bog")),
    area_m2=st.floats(0.1, 10_000),
    outlet=st.just(True),
    outlet_flow_l_s=st.floats(0.02, 500),
    overflow=st.booleans(),
    flood_prone=st.booleans(),
    bank_contact=st.booleans(),
    lined=st.booleans(),
    visited=st.booleans(),
    surplus=st.booleans(),
)
zones = st.sampled_from([f"{number}{half}" for number in range(2, 13) for half in "ab"])
climates = st.builds(
    Climate, hardiness_zone=st.none() | zones, first_frost=st.sampled_from((None, "09-20", "11-15"))
)
full_climates = st.builds(
    Climate, hardiness_zone=zones, first_frost=st.sampled_from(("09-20", "10-15", "11-15"))
)

_modes = st.lists(st.sampled_from(get_args(SpreadMode)), min_size=1, max_size=4, unique=True).map(
    tuple
)
_lengths = st.floats(0, 60).map(lambda low: Range(low, low + 100))
histories = st.builds(
    History,
    like_climate_regions=st.integers(0, 60),
    open_regions=st.sampled_from((63, 110)),
    tropical_regions=st.integers(0, 40),
    invasive_regions=st.integers(0, 30),
    pieces_travel=st.none() | st.booleans(),
    sterile=st.sampled_from((None, "no", "mostly")),
)
full_traits = st.builds(
    Traits,
    height_cm=st.floats(5, 400).map(lambda high: Range(1, high)),
    history=histories,
    growth_form=st.sampled_from(get_args(GrowthForm)),
    depth_cm=_lengths,
    flow=st.lists(st.sampled_from(get_args(Flow)), min_size=1, unique=True).map(tuple),
    light=st.lists(st.sampled_from(get_args(Light)), min_size=1, unique=True).map(tuple),
    zone_min=st.integers(3, 11),
    zone_max=st.integers(7, 13),
    native_north_america=st.sampled_from(get_args(Nativeness)),
    native_regions=st.sampled_from(((), ("midwest",), ("southeast", "northeast"))),
    spread_rate=st.sampled_from(get_args(SpreadRate)),
    spread_modes=_modes,
    perennating_organ=st.sampled_from(("", "rhizome", "seed (annual)")),
    frost_kill=st.sampled_from([kind for kind in get_args(FrostKill) if kind != "unknown"]),
)
FORGETTABLE: tuple[tuple[str, object], ...] = (
    ("growth_form", None),
    ("depth_cm", None),
    ("flow", ()),
    ("light", ()),
    ("zone_min", None),
    ("zone_max", None),
    ("native_north_america", None),
    ("native_regions", ()),
    ("spread_rate", None),
    ("spread_modes", ()),
    ("frost_kill", None),
    ("history", None),
    ("height_cm", None),
)


def forgotten(traits: Traits, columns: set[str]) -> Traits:
    """The traits with some columns unknown.

    Ways of spreading go with the organ that repeats them.
    """
    blank: dict[str, object] = {column: empty for column, empty in FORGETTABLE if column in columns}
    return replace(traits, **blank)  # type: ignore[arg-type]


partial_traits = st.builds(
    forgotten,
    full_traits,
    st.sets(st.sampled_from([column for column, _ in FORGETTABLE]), max_size=5),
)

_waters = st.builds(
    Water,
    water_id=st.uuids().map(lambda one: WaterId(str(one))),
    name=st.just("w"),
    kind=st.sampled_from(get_args(WaterKind)),
    flow=st.sampled_from(get_args(Flow)),
    longitude=st.just(-83.0),
    latitude=st.just(40.0),
    states=st.sampled_from(
        ((), (Jurisdiction("US-OH"),), (Jurisdiction("US-FL"), Jurisdiction("US-GA")))
    ),
)


def _downstream(water: Water, overland_m: float, detour: float, lakes: int) -> Reached:
    return Reached(water, "downstream", overland_m, overland_m * detour, lakes)


reached_waters = st.one_of(
    st.builds(_downstream, _waters, st.floats(0, 20_000), st.floats(1, 5), st.integers(0, 3)),
    st.builds(Reached, _waters, st.sampled_from(("near", "upstream")), st.floats(0, 20_000)),
    st.builds(Reached, _waters, st.just("contains"), st.just(0.0)),
)
several_waters = st.lists(
    reached_waters, min_size=1, max_size=4, unique_by=lambda one: one.water.water_id
)
measures = st.lists(
    st.builds(
        PlannedMeasure, st.sampled_from(get_args(MeasureKind)), st.none() | st.floats(0.1, 100)
    ),
    max_size=3,
).map(tuple)
annuli = st.lists(st.tuples(st.integers(0, 20), st.integers(0, 2_000)), min_size=4, max_size=4)
