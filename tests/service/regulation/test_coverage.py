"""How much of the law is loaded, jurisdiction by jurisdiction."""

from datetime import date

import pytest

from service.regulation.coverage import coverage_table
from service.regulation.law import ListVersion
from service.store.library import Library
from service.values.vocabulary import JURISDICTION_NAMES, Jurisdiction
from tests.service.regulation.builders import OHIO, ON, a_list, an_entry, law


def ohio(*versions: ListVersion, on: date = ON):  # type: ignore[no-untyped-def]
    return next(
        coverage for coverage in coverage_table(law(*versions), on) if coverage.jurisdiction == OHIO
    )


def test_every_jurisdiction_has_a_row(library: Library) -> None:
    assert [coverage.jurisdiction for coverage in coverage_table(library.law, ON)] == list(
        JURISDICTION_NAMES
    )


def test_a_jurisdiction_without_lists_is_held_not_at_all() -> None:
    coverage = ohio()
    assert (coverage.coverage, coverage.lists, coverage.share_read, coverage.oldest_reading) == (
        "none",
        (),
        None,
        "",
    )


def test_the_share_read_is_of_entries_seen_in_the_text() -> None:
    coverage = ohio(
        a_list(
            an_entry(),
            an_entry("hydrilla-verticillata", how_known="memory"),
            an_entry("salvinia", how_known="partly-read"),
        )
    )
    assert (coverage.entries, coverage.entries_read, coverage.share_read) == (
        3,
        1,
        pytest.approx(1 / 3),
    )


def test_the_oldest_reading_counts_a_bare_year_as_its_first_day() -> None:
    dates = ("2019-03-01", "2019", "", "2020-05")
    coverage = ohio(
        *(
            a_list(list_id=f"us-oh-{number}", read_copy_date=copied_on)
            for number, copied_on in enumerate(dates)
        )
    )
    assert (coverage.oldest_reading, coverage.undated_copies) == ("2019", 1)


def test_one_list_held_in_part_leaves_the_whole_held_in_part() -> None:
    assert ohio(a_list(an_entry())).coverage == "complete"
    assert (
        ohio(
            a_list(an_entry()), a_list(an_entry(), list_id="us-oh-b", completeness="partial")
        ).coverage
        == "partial"
    )


def test_lists_without_their_plants_count_as_none() -> None:
    assert ohio(a_list(completeness="partial")).coverage == "none"


def test_only_versions_in_force_count() -> None:
    first = a_list(an_entry(), effective_from=date(2010, 1, 1))
    second = a_list(an_entry(), an_entry("salvinia"), effective_from=date(2020, 1, 1))
    assert [
        ohio(first, second, on=day).entries
        for day in (date(2009, 1, 1), date(2019, 12, 31), date(2020, 1, 1))
    ] == [0, 1, 2]


def test_an_ordinance_stands_apart_and_an_own_rule_not_at_all() -> None:
    coverage = ohio(
        a_list(an_entry(), kind="ordinance"), a_list(an_entry(), list_id="own", kind="own-rule")
    )
    assert (
        coverage.coverage,
        coverage.entries,
        len(coverage.lists),
        [ordinance.list_id for ordinance in coverage.ordinances],
    ) == ("none", 0, 0, ["us-oh-test"])


def test_the_reference_says_what_it_lacks(library: Library) -> None:
    """Rhode Island's list was not found; Alaska's two are loaded in full and read; of the federal
    lists, that of seeds breaks off.
    """
    by_place = {coverage.jurisdiction: coverage for coverage in coverage_table(library.law, ON)}
    assert (
        by_place[Jurisdiction("US-RI")].coverage,
        by_place[Jurisdiction("US-RI")].share_read,
    ) == (
        "none",
        None,
    )
    assert (
        by_place[Jurisdiction("US-AK")].coverage,
        by_place[Jurisdiction("US-AK")].share_read,
    ) == (
        "complete",
        1.0,
    )
    assert by_place[Jurisdiction("US")].coverage == "partial"
