"""Published facts on growth and spread against the ranges that the model takes for them."""

import csv
import math
from pathlib import Path

import pytest

from service.escape.parameters import default_parameters
from service.values.growth import doubling_days, growth_rate_per_day
from tests.service.escape.catalogue import plants

P = default_parameters()
CHECKS = Path(__file__).parents[2] / "checks"
YEARS = 10


def _rows(name: str) -> list[dict[str, str]]:
    with (CHECKS / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_every_published_check_keeps_its_citation() -> None:
    for name in (
        "frost_facts.csv",
        "growth_rates.csv",
        "growth_linear_spread.csv",
        "published_accuracy.csv",
    ):
        assert all(row["citation"] or row["how_known"] == "not found" for row in _rows(name))
        assert all(row["how_known"] for row in _rows(name))


def test_ten_years_of_the_published_advance_lies_within_the_scales_of_creeping() -> None:
    # Haslam 1970: 1 to 2 m a year; Swearingen & Saltonstall: 3 m in a season at best
    spread = {
        row["quantity"]: row
        for row in _rows("growth_linear_spread.csv")
        if row["species"].startswith("Phrag")
    }
    margin = spread["annual advance of margin"]
    assert P.span("reach.creep.rhizome")[1] == pytest.approx(YEARS * float(margin["value_max"])), (
        margin["citation"]
    )
    assert P.span("reach.creep.rhizome")[0] < YEARS * float(margin["value_min"])
    runner = spread["rhizome runner growth"]
    assert P.span("reach.creep.runner")[1] == pytest.approx(YEARS * float(runner["value_min"])), (
        runner["citation"]
    )


def test_the_catalogue_doubling_times_overlap_the_published_ones() -> None:
    published: dict[str, list[tuple[float, float, str]]] = {}
    for row in _rows("growth_rates.csv"):
        if row["quantity"] == "doubling_days":
            ends = [float(row[end]) for end in ("value_min", "value_max") if row[end]]
            published.setdefault(row["species"], []).append((min(ends), max(ends), row["citation"]))
    overlapping = 0
    for name, found in published.items():
        days = plants()[name].traits.doubling_days if name in plants() else None
        if days is None:
            continue
        overlapping += 1
        assert any(low <= days.high and days.low <= high for low, high, _ in found), found[0][2]
    assert overlapping >= 2


def test_rate_and_doubling_time_of_the_duckweeds_agree() -> None:
    # Ziegler et al. 2015, Plant Biology, doi:10.1111/plb.12184: 0.153 to 0.519 a day is 1.34 to
    # 4.54 days to double
    assert doubling_days(0.519) == pytest.approx(1.34, abs=0.01)
    assert growth_rate_per_day(4.54) == pytest.approx(0.153, abs=0.001)
    days = plants()["Lemna minor"].traits.doubling_days
    assert days is not None
    assert (days.low, days.high) == (1.34, 4.54)


def test_fragments_found_a_stand_as_often_as_was_measured() -> None:
    # Riis 2007, Hydrobiologia, doi:10.1007/s10750-007-9107-0 (abstract): 3.4% of retained shoots
    # colonised, about half lived through the winter; 40 to 200 pieces in ten years
    a_piece = 0.034 * 0.5
    low, high = P.span("founding.fragment")
    assert 1 - (1 - a_piece) ** 40 == pytest.approx(low, abs=0.01)
    assert 1 - (1 - a_piece) ** 200 == pytest.approx(high, abs=0.01)


def test_lasting_is_likelier_than_being_listed_by_the_published_odds() -> None:
    # Gordon et al. 2012, PLoS ONE 7(7): e40031 (abstract): of 130 introduced water plants 39 are
    # major and 31 minor invaders, 60 did not establish
    count = {row["fact"]: float(row["value"]) for row in _rows("published_accuracy.csv")
             if row["fact"].startswith("calibration species")}  # fmt: skip
    major, minor, none = (
        next(value for fact, value in count.items() if word in fact)
        for word in ("major", "minor", "not established")
    )
    apart = math.log((major + minor) / none) - math.log(major / (minor + none))
    low, high = P.span("history.listing.score")
    assert (low + high) / 2 == pytest.approx(apart, abs=0.02)
