"""Facts of the trade that the catalogue's ranges have to take in, from ``tests/checks``: common
practice, no source.
"""

import csv
from datetime import date
from pathlib import Path

import pytest

from service.regulation.restricted import restricted_in
from service.store.library import Library
from service.values.plants import Plant, Range
from service.values.vocabulary import PlantId

FACTS = list(
    csv.DictReader(Path("tests/checks/trade_facts.csv").read_text(encoding="utf-8").splitlines())
)
ISLAND = "(any container plant that spreads)"
SHALLOW_CM = 20
MANY_STATES = 8


def plant_of(library: Library, name: str) -> Plant:
    return next(plant for plant in library.plants.values() if plant.accepted_name == name)


@pytest.mark.parametrize(
    "row",
    [row for row in FACTS if row["unit"] in ("zone", "cm")],
    ids=lambda row: f"{row['accepted_name']}: {row['fact']}",
)
def test_zones_and_heights_of_the_trade_are_in_the_catalogue_s_range(
    library: Library, row: dict[str, str]
) -> None:
    """A selection that is sold for a warmer zone than its species is within the species' range."""
    traits, value = plant_of(library, row["accepted_name"]).traits, float(row["value"])
    if row["unit"] == "zone":
        assert traits.zone_min is not None
        assert traits.zone_min <= value
    else:
        height = traits.height_cm or Range(0, 0)
        assert height.low <= value <= height.high


@pytest.mark.parametrize(
    "row",
    [row for row in FACTS if row["unit"] in ("light", "flow")],
    ids=lambda row: f"{row['accepted_name']}: {row['fact']}",
)
def test_light_and_flow_of_the_trade_are_among_the_catalogue_s(
    library: Library, row: dict[str, str]
) -> None:
    traits = plant_of(library, row["accepted_name"]).traits
    assert row["value"] in (traits.light if row["unit"] == "light" else traits.flow)


@pytest.mark.parametrize(
    "row",
    [row for row in FACTS if row["unit"] == "spread"],
    ids=lambda row: f"{row['accepted_name']}: {row['fact']}",
)
def test_spread_of_the_trade_is_no_faster_than_the_catalogue_s(
    library: Library, row: dict[str, str]
) -> None:
    order = ("slow", "moderate", "fast", "aggressive")
    rate = plant_of(library, row["accepted_name"]).traits.spread_rate
    assert rate is not None
    assert order.index(rate) >= order.index(row["value"])


@pytest.mark.parametrize(
    "row",
    [row for row in FACTS if row["unit"] in ("depth", "place")],
    ids=lambda row: f"{row['accepted_name']}: {row['fact']}",
)
def test_plants_of_shallow_water_and_bog_begin_at_the_surface_and_stay_shallow(
    library: Library, row: dict[str, str]
) -> None:
    depth = plant_of(library, row["accepted_name"]).traits.depth_cm
    assert depth is not None
    assert depth.low <= 0 < depth.high <= SHALLOW_CM


def test_water_hyacinth_is_barred_or_limited_in_many_states(library: Library) -> None:
    subject = library.taxonomy.subject(PlantId("pontederia-crassipes"))
    assert len(restricted_in(library.law, subject, date(2026, 6, 1))) >= MANY_STATES


def test_every_fact_is_looked_at() -> None:
    """That of the foam island is in the tests of containment."""
    units = {row["unit"] for row in FACTS}
    assert units == {
        "zone",
        "cm",
        "light",
        "flow",
        "spread",
        "depth",
        "place",
        "law",
        "containment",
    }
    assert [row["accepted_name"] for row in FACTS if row["unit"] == "containment"] == [ISLAND]
