import csv
import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from service.errors import BadRequest, UnknownValue
from service.escape.climate import season, season_days, site_cold, warm_end, winter, zone_range_c
from service.escape.draws import draws
from service.escape.habitat import depth_match, flow_match, habitat, room
from service.escape.history import lasting, terms
from service.escape.parameters import HISTORY_TERMS, default_parameters
from service.values.plants import History, Range, Traits
from service.values.site import Climate
from tests.service.escape.catalogue import plants

P = default_parameters()
D, FULL = draws(P, full=False), draws(P, full=True)
TENDER = Traits(zone_min=9, zone_max=11, frost_kill="yes", spread_modes=("offset",))
HARDY = Traits(zone_min=4, zone_max=9, frost_kill="top-only", spread_modes=("rhizome",))
HALF_ZONES = [f"{number}{half}" for number in range(1, 14) for half in "ab"]
WEED = Traits(
    growth_form="emergent",
    height_cm=Range(50, 150),
    native_north_america="no",
    spread_rate="fast",
    spread_modes=("seed",),
    history=History(like_climate_regions=10, invasive_regions=3),
)


def test_zones_are_those_of_the_published_map() -> None:
    # USDA Agricultural Research Service Plant Hardiness Zone Map: zone 6b is -5 to 0 F
    assert zone_range_c("6b") == Range((-5 - 32) / 1.8, (0 - 32) / 1.8)
    assert zone_range_c("10a").low == pytest.approx(-1.1, abs=0.05)
    assert zone_range_c("6") == Range(zone_range_c("6a").low, zone_range_c("6b").high)


@pytest.mark.parametrize("zone", ["", "0a", "14a", "6c", "b6", "six"])
def test_a_zone_that_does_not_exist_is_refused(zone: str) -> None:
    with pytest.raises(UnknownValue):
        zone_range_c(zone)


def test_a_measured_temperature_is_narrowed_by_the_zone_unless_they_contradict() -> None:
    assert site_cold(Climate("6b", (-22.0, -18.0))).celsius == Range(zone_range_c("6b").low, -18.0)
    assert site_cold(Climate("9a", (-22.0, -18.0))).celsius == Range(-22.0, -18.0)
    assert site_cold(Climate()).celsius == Range(zone_range_c("1").low, zone_range_c("13").high)


def test_survival_by_hand() -> None:
    # common practice, no source: a hardy plant of zone 4 (-34.4 C) may stand 8 degrees more and 1
    # less; in 6b the margin runs from -20.56 + 34.44 - 1 = 12.9 to 24.7 degrees, over 1.5 to 3
    survives = winter(HARDY, Climate("6b"), D).survives
    assert survives[-3] == pytest.approx(1 / (1 + math.exp(-12.889 / 3)), abs=1e-4)
    assert survives[-1] == pytest.approx(1.0, abs=1e-6)


def test_a_tender_plant_dies_in_the_cold_and_lives_in_the_warm() -> None:
    assert winter(TENDER, Climate("5b"), D).persists.max() < 0.05
    assert winter(TENDER, Climate("10b"), D).persists.min() > 0.85


def test_a_milder_winter_never_lowers_survival() -> None:
    for traits in (TENDER, HARDY, Traits()):
        found = [winter(traits, Climate(zone), FULL).persists for zone in HALF_ZONES]
        assert all((colder <= milder + 1e-12).all() for colder, milder in pairwise(found))


def test_seed_and_winter_buds_bring_back_what_the_frost_killed() -> None:
    seeding = Traits(zone_min=9, frost_kill="yes", spread_modes=("seed", "turion"))
    with_bank, bare = (winter(one, Climate("7b"), D) for one in (seeding, TENDER))
    assert (with_bank.survives == bare.survives).all()
    assert with_bank.returns[-1] > 0.5 > bare.returns[-1] == 0.0


def test_the_season_by_hand() -> None:
    # 10 October is day 283; twice the time from day 185 to 215 is 136 to 196 days; 45 to 120 days
    # are needed
    assert season_days("10-10", P) == Range(136.0, 196.0)
    assert (season("10-10", D) == 1.0).all()
    short = season("08-20", D)
    assert (short[-3], short[-1]) == pytest.approx((34 / 120, 1.0))


@pytest.mark.parametrize("frost", ["10/10", "13-01", "02-30", "frost"])
def test_a_date_that_is_none_is_refused(frost: str) -> None:
    with pytest.raises(BadRequest, match="not a day of the year"):
        season_days(frost, P)


def test_a_site_far_above_the_warm_limit_keeps_the_plant_down_but_not_out() -> None:
    hot = warm_end(7, Climate("12b"), D)
    assert hot[-3] < 0.2
    assert hot[-1] >= 0.6
    assert warm_end(9, Climate("6b"), D).min() > 0.98


def _published() -> list[dict[str, str]]:
    path = Path(__file__).parents[2] / "checks" / "frost_facts.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_the_published_killing_temperatures_kill() -> None:
    killed = [
        row for row in _published() if "destroyed" in row["fact"] or "killed below" in row["fact"]
    ]
    assert {row["species"] for row in killed} == {"Pontederia crassipes", "Salvinia molesta"}
    for row in killed:
        # the water stays warmer than the coldest air of a night; 20 degrees below the lethal air
        # temperature that does not help any more
        cold = float(row["value"]) - 20.0
        climate = Climate(extreme_minimum_c=(cold, cold))
        survives = winter(plants()[row["species"]].traits, climate, D).survives
        assert survives[-1] < 0.15, row["citation"]


def test_alligatorweed_outlives_the_frost_that_kills_its_stems() -> None:
    row = next(row for row in _published() if row["species"] == "Alternanthera philoxeroides")
    assert "survives severe frost" in row["fact"]
    traits = plants()["Alternanthera philoxeroides"].traits
    assert winter(traits, Climate("7a"), D).survives[-1] > 0.9, row["citation"]


def test_a_floating_plant_needs_no_depth_and_a_deep_one_finds_less_of_it() -> None:
    floating = Traits(growth_form="free-floating")
    assert (depth_match(floating, "stream", D) == 1.0).all()
    shallow, deep = (
        depth_match(Traits(growth_form="submerged", depth_cm=Range(low, 300)), "stream", D)
        for low in (5.0, 80.0)
    )
    assert (deep <= shallow).all()
    assert deep[-2] < 1.0


def test_a_flow_further_from_what_it_is_grown_in_never_suits_it_better() -> None:
    still, slow, moving = (flow_match(("still",), one, D) for one in ("still", "slow", "moving"))
    assert (slow <= still).all()
    assert (moving <= slow).all()


def test_a_water_that_no_map_shows_may_be_of_any_kind() -> None:
    floats = Traits(growth_form="free-floating", flow=("still",), light=("sun",))
    unknown = room("free-floating", None, FULL)
    for kind in ("lake", "pond", "stream"):
        known = room("free-floating", kind, FULL)
        assert unknown[-3] <= known[-3]
        assert unknown[-1] >= known[-1]
    assert habitat(floats, None, None, FULL).max() <= 1.0


def _lasts(traits: Traits, native: float = 1.0) -> float:
    return float(lasting(traits, np.full(FULL.rows, native), FULL)[-2])


@pytest.mark.parametrize(
    ("weedier", "tamer"),
    [
        ({"history": History(like_climate_regions=30, invasive_regions=3)}, {}),
        ({"history": History(like_climate_regions=10, invasive_regions=9)}, {}),
        ({"spread_rate": "aggressive"}, {}),
        ({}, {"native_north_america": "yes"}),
        ({}, {"spread_rate": "slow"}),
        ({"history": History(10, open_regions=63, invasive_regions=3)}, {}),
    ],
)
def test_every_term_works_the_way_its_reason_says(
    weedier: dict[str, object], tamer: dict[str, object]
) -> None:
    assert _lasts(replace(WEED, **weedier)) > _lasts(replace(WEED, **tamer))  # type: ignore[arg-type]


def test_the_score_by_hand() -> None:
    # z = intercept + weights * (ln 11, ln 4, 0, ln 151, 0, 2) + half way of the offset and of the
    # error, 1.0 and 0.0
    weight = {term: P.value(f"history.weight.{term}") for term in ("intercept", *HISTORY_TERMS)}
    z = weight["intercept"] + 1.0 + weight["regions"] * math.log(11)
    z += weight["invasive"] * math.log(4) + weight["height"] * math.log(151) + 2 * weight["rate"]
    assert set(terms(WEED)) == set(HISTORY_TERMS)
    assert _lasts(WEED) == pytest.approx(1 / (1 + math.exp(-z)))


def test_away_from_home_a_native_counts_for_less() -> None:
    native = replace(WEED, native_north_america="yes")
    assert _lasts(native, 1.0) < _lasts(native, 0.3) < _lasts(WEED)
