import re

import numpy as np
import pytest

from tests.service.escape import validation
from tests.service.escape.catalogue import listed_somewhere, plants
from tests.service.escape.genus_split import committed_split, genus_of, part_of


def test_the_committed_split_is_the_seeded_one_and_covers_the_catalogue() -> None:
    split = committed_split()
    assert all(part == part_of(genus) for genus, part in split.items())
    missing = {genus_of(name) for name in plants()} - split.keys()
    assert not missing, "draw the new genera: python -m tests.service.escape.genus_split"
    assert 0.3 < sum(part == "held-back" for part in split.values()) / len(split) < 0.5


def test_the_area_under_the_curve_counts_pairs_in_order() -> None:
    truth = np.array([True, True, False, False])
    assert validation.area_under_curve(truth, np.array([0.9, 0.4, 0.5, 0.1])) == 3 / 4
    assert validation.area_under_curve(truth, np.array([0.5, 0.5, 0.5, 0.5])) == 0.5
    false_rate, true_rate = validation.roc(truth, np.array([0.9, 0.4, 0.5, 0.1]))
    assert float(np.trapezoid(true_rate, false_rate)) == 3 / 4


@pytest.mark.parametrize("variant", list(validation.VARIANTS))
def test_the_documented_areas_are_those_of_the_model(variant: str) -> None:
    report = validation.REPORT.read_text(encoding="utf-8")
    row = re.search(
        rf"^\| {re.escape(variant)} \| ([\d.]+) .*?\| ([\d.]+) .*?\| ([\d.]+) ",
        report,
        re.MULTILINE,
    )
    assert row is not None
    listed = listed_somewhere()
    for part, documented in zip(("held-back", "training", "all"), row.groups(), strict=True):
        names = validation.names_in(part)
        truth = np.array([name in listed for name in names])
        score = np.array([validation.scored(variant)[name] for name in names])
        assert validation.area_under_curve(truth, score) == pytest.approx(
            float(documented), abs=5.1e-4
        )


def test_the_report_is_up_to_date() -> None:
    report = validation.REPORT.read_text(encoding="utf-8")
    again = "plants, law or coefficients have changed: python -m tests.service.escape.validation --write"
    assert validation.with_figures(report) == report, again


def test_the_listings_read_for_comparison_are_by_state_and_by_name() -> None:
    listed = listed_somewhere()
    assert 60 < len(listed) < 250
    assert "us-federal-noxious-weeds" not in {one for lists in listed.values() for one in lists}
    assert "Pontederia crassipes" in listed  # as Eichhornia crassipes
    assert "Lobelia cardinalis" not in listed
