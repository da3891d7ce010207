import csv
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from service.escape import default_parameters
from service.escape.parameters import HISTORY_TERMS
from tests.service.escape import fitting, validation
from tests.service.escape.catalogue import listed_by_at_least, listed_somewhere, plants
from tests.service.escape.genus_split import committed_split, genus_of, part_of
from tests.service.escape.roc import area_under_curve, roc


def test_the_committed_split_is_the_seeded_one_and_covers_the_catalogue() -> None:
    split = committed_split()
    assert all(part == part_of(genus) for genus, part in split.items())
    missing = {genus_of(name) for name in plants()} - split.keys()
    assert not missing, "draw the new genera: python -m tests.service.escape.genus_split"
    assert 0.3 < sum(part == "held-back" for part in split.values()) / len(split) < 0.5


def test_nothing_was_fitted_on_a_held_back_genus() -> None:
    sample = fitting.read_table()
    assert len(sample.names) > 500
    assert {part_of(genus) for genus in sample.genera} == {"training"}


def test_the_weights_are_those_of_the_fit() -> None:
    sample = fitting.read_table()
    again = fitting.fit(sample, fitting.chosen_penalty(sample))
    parameters = default_parameters()
    assert parameters.value("history.weight.intercept") == pytest.approx(again.intercept, abs=1e-3)
    for term in HISTORY_TERMS:
        assert parameters.value(f"history.weight.{term}") == pytest.approx(
            again.weights[term], abs=1e-3
        ), term


def test_a_weight_stays_on_the_side_that_its_reason_allows() -> None:
    for term, side in fitting.SIDE.items():
        assert default_parameters().value(f"history.weight.{term}") * side >= 0.0


def test_the_growers_rating_has_only_what_it_adds() -> None:
    # invented: the rating repeats the regions exactly, so that nothing is left for it
    chance = np.random.default_rng(3)
    regions = chance.integers(0, 2, 400).astype(float)
    x = np.zeros((400, len(HISTORY_TERMS)))
    x[:, HISTORY_TERMS.index("regions")] = x[:, HISTORY_TERMS.index("rate")] = regions
    listed = (chance.random(400) < 0.2 + 0.5 * regions).astype(float)
    names = tuple(f"Genus{n} species" for n in range(400))
    found = fitting.fit(fitting.Sample(names, np.ones(400), x, listed), 1.0)
    assert found.weights["regions"] > 10 * found.weights["rate"]


def test_the_area_under_the_curve_counts_pairs_in_order() -> None:
    truth = np.array([True, True, False, False])
    assert area_under_curve(truth, np.array([0.9, 0.4, 0.5, 0.1])) == 3 / 4
    assert area_under_curve(truth, np.array([0.5, 0.5, 0.5, 0.5])) == 0.5
    false_rate, true_rate = roc(truth, np.array([0.9, 0.4, 0.5, 0.1]))
    assert float(np.trapezoid(true_rate, false_rate)) == 3 / 4


def test_every_registered_figure_is_reported_met_or_missed() -> None:
    report = validation.REPORT.read_text(encoding="utf-8")
    for figure in tomllib.loads(validation.REGISTERED.read_text(encoding="utf-8"))["figure"]:
        row = next(line for line in report.splitlines() if f"| {figure['about']} |" in line)
        assert row.rstrip(" |").endswith(("met", "**missed**"))
        found = float(row.split("|")[3])
        assert found == pytest.approx(validation.measured()[figure["key"]], abs=5.1e-4), figure[
            "key"
        ]


def test_the_report_is_up_to_date() -> None:
    report = validation.REPORT.read_text(encoding="utf-8")
    again = "plants, law or coefficients have changed: python -m tests.service.escape.validation --write"
    assert validation.with_figures(report) == report, again


def test_scores_are_written_for_every_plant_of_the_catalogue(tmp_path: Path) -> None:
    validation.write_scores(tmp_path / "scores.csv")
    with (tmp_path / "scores.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["accepted_name"] for row in rows] == list(plants())
    assert all(0.0 <= float(row["score"]) <= 1.0 for row in rows)


def test_no_listing_is_read_by_the_model() -> None:
    package = Path(validation.__file__).parents[3] / "service" / "escape"
    for file in package.glob("*.py"):
        text = file.read_text(encoding="utf-8")
        assert "service.regulation" not in text, file.name
    words = {word for key in default_parameters().coefficients for word in re.split(r"\W|_", key)}
    assert not words & {"state", "states"}


def test_the_listings_read_for_comparison_are_by_state_and_by_name() -> None:
    listed = listed_somewhere()
    assert len(listed) > 60
    assert "us-federal-noxious-weeds" not in {one for lists in listed.values() for one in lists}
    assert "Pontederia crassipes" in listed  # as Eichhornia crassipes
    assert "Lobelia cardinalis" not in listed
    assert set(listed_by_at_least(3)) < set(listed)
