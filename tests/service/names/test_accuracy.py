"""The accuracy table's promises, on a sample: every fifth name, one seed. The whole table:
tests.benchmarks.measure_names.
"""

from pathlib import Path

import pytest

from service.names import Resolver
from tests.service.names.accuracy import tally
from tests.service.names.noise import NOISES, Named, letters, one_edit

_EVERY = 5

ACCURACY = Path(__file__).parents[3] / "docs" / "ACCURACY.md"


def test_exact_names_are_found_without_exception(
    every_name: list[Named], resolver: Resolver
) -> None:
    counts, failed = tally(resolver, every_name, NOISES["exact"], seed=1)
    assert failed == []
    assert sum(counts.values()) == len(every_name) > 3_500


@pytest.mark.parametrize("noise", sorted(NOISES))
def test_nothing_is_confirmed_and_wrong(
    every_name: list[Named], resolver: Resolver, noise: str
) -> None:
    counts, _ = tally(resolver, every_name[::_EVERY], NOISES[noise], seed=2)
    assert counts["wrong, confirmed"] == 0
    assert sum(counts.values()) > 200


def test_one_edit_in_eight_letters_and_more_finds_98_of_100(
    every_name: list[Named], resolver: Resolver
) -> None:
    long = [named for named in every_name[::_EVERY] if letters(named.record.name) >= 8]
    counts, _ = tally(resolver, long, one_edit, seed=3)
    found = counts["right"] + counts["several, right among them"]
    assert found / sum(counts.values()) >= 0.98


def test_the_published_table_has_every_noise_and_nothing_confirmed_and_wrong() -> None:
    table = ACCURACY.read_text(encoding="utf-8")
    rows = {
        line.split("|")[1].strip(): line.split("|")
        for line in table.splitlines()
        if line.startswith("| ")
    }
    assert set(NOISES) <= set(rows)
    assert {rows[noise][7].strip() for noise in NOISES} == {"0"}
