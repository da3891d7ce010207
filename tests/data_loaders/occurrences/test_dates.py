"""The year of a record."""

import pytest

from data_loaders.occurrences.dates import year_of


@pytest.mark.parametrize(
    ("event_date", "year"),
    [
        # GBIF technical documentation, temporal interpretation, table of event dates.
        ("2023-01-13T09:32:00Z", 2023),
        ("2023-01-13/2023-01-15", 2023),
        ("2023-01-13/2023-02-03", 2023),
        ("2023-01-13/2024-03-09", None),
        ("2023-01", 2023),
        ("2023-01/2024-02", None),
        ("2023/2024", None),
        ("2023-09-05/18", 2023),
        ("2023-01/09", 2023),
        # Darwin Core, examples of eventDate.
        ("1963-03-08T14:07-06:00", 1963),
        ("2009-02-20T08:40Z", 2009),
        ("2018-08-29T15:19", 2018),
        ("1809-02-12", 1809),
        ("1906-06", 1906),
        ("1971", 1971),
        ("2007-03-01T13:00:00Z/2008-05-11T15:30:00Z", None),
        ("1900/1909", None),
        ("2007-11-13/15", 2007),
    ],
)
def test_the_year_of_an_event_date_is_the_published_one(event_date: str, year: int | None) -> None:
    assert year_of(event_date, "") == year


def test_two_terms_that_contradict_each_other_leave_the_year_open() -> None:
    assert year_of("2023-01-13", "2023") == 2023
    assert year_of("2023-01-13", "2022") is None


@pytest.mark.parametrize(
    "event_date", ["", "8/3/1963", "13.01.2023", "summer 1999", "20230113", "0001-01-01", "9999"]
)
def test_a_date_of_another_form_says_nothing(event_date: str) -> None:
    assert year_of(event_date, "") is None


def test_a_stated_year_stands_alone() -> None:
    assert year_of("", "1987") == 1987
    assert year_of("8/3/1987", "1987") == 1987
    assert year_of("", "87") is None
