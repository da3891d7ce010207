"""What is loaded of a state's law, in one phrase."""

import pytest

from service.regulation.coverage import standing_of
from service.regulation.law import Completeness, Entry
from tests.service.regulation.builders import OHIO, ON, a_class, a_list, an_entry, law


def entries(read: int, unread: int) -> list[Entry]:
    known = ["read"] * read + ["memory", "partly-read"] * unread
    return [
        an_entry(f"plant-{number}", how_known=how_known)
        for number, how_known in enumerate(known[: read + unread])
    ]


@pytest.mark.parametrize(
    ("read", "unread", "completeness", "phrase"),
    [
        (2, 0, "complete", "Ohio: all entries read, list complete"),
        (1, 2, "complete", "Ohio: 33% of the entries read, list complete"),
        (1, 35, "truncated", "Ohio: 3% of the entries read, list breaks off"),
        (0, 2, "partial", "Ohio: no entry read, list in part"),
        (999, 1, "complete", "Ohio: 99% of the entries read, list complete"),
        (1, 999, "complete", "Ohio: 1% of the entries read, list complete"),
        (0, 0, "none", "Ohio: no list loaded with its plants"),
    ],
)
def test_share_and_completeness_are_one_phrase(
    read: int, unread: int, completeness: Completeness, phrase: str
) -> None:
    book = law(a_list(*entries(read, unread), completeness=completeness))
    assert standing_of(book, OHIO, ON).phrase == phrase


def test_of_several_lists_the_phrase_counts_those_that_break_off() -> None:
    lists = [
        a_list(an_entry(), list_id=f"us-oh-{number}", completeness=completeness)
        for number, completeness in enumerate(("complete", "truncated", "truncated", "partial"))
    ]
    standing = standing_of(law(*lists), OHIO, ON)
    assert standing.phrase == "Ohio: all entries read, 2 of 4 lists break off"
    assert (standing.truncated, standing.share_read, standing.coverage) == (2, 1.0, "partial")
    one = standing_of(law(*lists[:2]), OHIO, ON)
    assert one.phrase == "Ohio: all entries read, 1 of 2 lists breaks off"


def test_several_whole_lists_are_complete() -> None:
    book = law(a_list(an_entry()), a_list(an_entry(), list_id="us-oh-b"))
    assert standing_of(book, OHIO, ON).phrase == "Ohio: all entries read, lists complete"


def test_without_lists_it_says_so_and_own_rules_and_ordinances_do_not_count() -> None:
    own = a_list(an_entry(), list_id="own", kind="own-rule")
    town = a_list(an_entry(), list_id="town", kind="ordinance")
    for book in (law(), law(own, town)):
        standing = standing_of(book, OHIO, ON)
        assert (standing.phrase, standing.share_read) == ("Ohio: no list loaded", None)


def test_a_rule_on_every_aquatic_plant_has_no_entries_and_is_complete() -> None:
    book = law(a_list(classes=(a_class(every_aquatic_plant=True),)))
    assert standing_of(book, OHIO, ON).phrase == "Ohio: list complete"
