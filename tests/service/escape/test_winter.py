import csv
import math
from itertools import pairwise
from pathlib import Path

import pytest

from service.errors import BadRequest, UnknownValue
from service.escape.interval import Interval
from service.escape.parameters import default_parameters
from service.escape.winter import season, season_days, site_cold, warm_end, winter, zone_range_c
from service.values.plants import Range, Traits
from service.values.site import Climate
from tests.service.escape.catalogue import plants

P = default_parameters()
TENDER = Traits(zone_min=9, zone_max=11, frost_kill="yes", spread_modes=("offset",))
HARDY = Traits(zone_min=4, zone_max=9, frost_kill="top-only", spread_modes=("rhizome",))
HALF_ZONES = [f"{number}{half}" for number in range(1, 14) for half in "ab"]


def test_zones_are_those_of_the_published_map() -> None:
    # USDA Agricultural Research Service Plant Hardiness Zone Map: zone 6b is -5 to 0 F, zone 10a 30
    # to 35 F
    assert zone_range_c("6b") == Range((-5 - 32) / 1.8, (0 - 32) / 1.8)
    assert zone_range_c("10a").low == pytest.approx(-1.1, abs=0.05)
    assert zone_range_c("6") == Range(zone_range_c("6a").low, zone_range_c("6b").high)
    assert zone_range_c(" 6B ") == zone_range_c("6b")


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
    # less; in 6b the
    # margin runs from -20.56 + 34.44 - 1 = 12.9 to -17.78 + 34.44 + 8 = 24.7 degrees, over a spread
    # of 1.5 to 3
    survives = winter(HARDY, Climate("6b"), P).survives
    assert survives.low == pytest.approx(1 / (1 + math.exp(-12.889 / 3)), abs=1e-4)
    assert survives.high == pytest.approx(1.0, abs=1e-6)


def test_a_tender_plant_dies_in_the_cold_and_lives_in_the_warm() -> None:
    assert winter(TENDER, Climate("5b"), P).persists.high < 0.02
    assert winter(TENDER, Climate("10b"), P).persists.low > 0.85


def test_a_milder_winter_never_lowers_survival() -> None:
    for traits in (TENDER, HARDY, Traits()):
        found = [winter(traits, Climate(zone), P) for zone in HALF_ZONES]
        for colder, milder in pairwise(found):
            assert colder.persists.low <= milder.persists.low + 1e-12
            assert colder.persists.high <= milder.persists.high + 1e-12


def test_a_hardier_plant_never_survives_less() -> None:
    found = [
        winter(Traits(zone_min=zone, frost_kill="no"), Climate("6a"), P).survives
        for zone in range(11, 0, -1)
    ]
    assert all(a.low <= b.low and a.high <= b.high for a, b in pairwise(found))


def test_seed_and_winter_buds_bring_back_what_the_frost_killed() -> None:
    seeding = Traits(zone_min=9, frost_kill="yes", spread_modes=("seed", "turion"))
    with_bank, bare = winter(seeding, Climate("7b"), P), winter(TENDER, Climate("7b"), P)
    assert with_bank.survives == bare.survives
    assert with_bank.returns.high > 0.5 > bare.returns.high == 0.0
    assert with_bank.persists.high > bare.persists.high


def test_an_annual_lives_on_from_seed() -> None:
    annual = Traits(
        zone_min=6, frost_kill="yes", spread_modes=("seed",), perennating_organ="seed (annual)"
    )
    assert winter(annual, Climate("6b"), P).returns.low > 0.2


def test_what_is_unknown_of_a_plant_holds_every_answer() -> None:
    unsaid = winter(Traits(spread_modes=("seed",)), Climate("6b"), P).persists
    for zone in range(3, 12):
        for kill in ("yes", "top-only", "no"):
            traits = Traits(zone_min=zone, frost_kill=kill, spread_modes=("seed",))
            assert winter(traits, Climate("6b"), P).persists in unsaid


def test_a_site_far_above_the_warm_limit_holds_the_plant_down_but_not_out() -> None:
    assert warm_end(7, Climate("12b"), P).low < 0.2
    assert warm_end(7, Climate("12b"), P).high >= 0.6
    assert warm_end(9, Climate("6b"), P).low > 0.98
    assert warm_end(8, Climate("9b"), P) in warm_end(None, Climate("9b"), P)


def test_the_season_by_hand() -> None:
    # 10 October is day 283; twice the time from day 185 to 215 is 136 to 196 days; 45 to 120 days
    # are needed
    assert season_days("10-10", P) == Range(136.0, 196.0)
    assert season("10-10", P) == Interval(1.0, 1.0)
    assert season("08-20", P) == Interval(34 / 120, 1.0)
    assert season("10-10", P) in season(None, P)


@pytest.mark.parametrize("frost", ["10/10", "13-01", "02-30", "frost"])
def test_a_date_that_is_none_is_refused(frost: str) -> None:
    with pytest.raises(BadRequest, match="no day of the year"):
        season_days(frost, P)


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
        traits = plants()[row["species"]].traits
        # the water stays warmer than the coldest air of a night; 20 degrees below the lethal air
        # temperature it does
        # not help any more
        cold = float(row["value"]) - 20.0
        survives = winter(traits, Climate(extreme_minimum_c=(cold, cold)), P).survives
        assert survives.high < 0.15, row["citation"]


def test_alligatorweed_outlives_the_frost_that_kills_its_stems() -> None:
    row = next(row for row in _published() if row["species"] == "Alternanthera philoxeroides")
    assert "survives severe frost" in row["fact"]
    traits = plants()["Alternanthera philoxeroides"].traits
    assert winter(traits, Climate("7a"), P).survives.high > 0.9, row["citation"]
