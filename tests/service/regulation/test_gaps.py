"""What is not loaded of the law: lists that break off, rules without their plants, versions."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given

from service.regulation.finding import Question, find
from service.regulation.law import Completeness, Entry, ListVersion, Term
from service.values.vocabulary import FEDERAL, OUTCOMES, Act, Jurisdiction, PlantId
from tests.service.regulation.builders import OHIO, ON, a_class, a_list, a_subject, an_entry, law
from tests.service.regulation.test_finding import BOOKS, LISTS, QUESTIONS, SUBJECTS

SELL = Question(OHIO, "sell", ON, movement="within")
OTHER = an_entry("hydrilla-verticillata")


def broken_off(*entries: Entry, **changes: Any) -> ListVersion:
    cut: dict[str, Any] = {
        "list_id": "us-oh-cut",
        "completeness": "truncated",
        "missing": "copy cut after Hydrilla.",
    }
    return a_list(*entries, **{**cut, **changes})


def test_a_plant_that_a_list_breaks_off_before_naming_is_undetermined_with_the_reason() -> None:
    finding = find(law(broken_off(OTHER)), a_subject(), SELL)
    assert (finding.outcome, finding.coverage, finding.verified) == (
        "undetermined",
        "partial",
        False,
    )
    assert finding.reasons == (
        "Test Code 1: not loaded in full (copy cut after Hydrilla), it may name this plant.",
    )
    assert finding.gaps == finding.reasons
    assert finding.open_for_gaps_alone


def test_a_plant_that_the_part_held_names_is_answered_by_it() -> None:
    finding = find(law(broken_off(OTHER)), a_subject("hydrilla-verticillata"), SELL)
    assert (finding.outcome, finding.verified, finding.gaps) == ("prohibited", True, ())


def test_a_plant_that_the_part_held_leaves_out_by_name_is_answered_by_it() -> None:
    out = Term("except-taxa", "except Trapa natans", taxa=(PlantId("trapa-natans"),))
    finding = find(
        law(broken_off(an_entry("trapa", rank="genus", terms=(out,)))), a_subject(), SELL
    )
    assert finding.outcome == "no-entry-found"
    assert "except Trapa natans" in finding.reasons[0]


def test_a_list_that_leaves_the_hybrids_of_a_parent_out_may_still_name_this_one() -> None:
    """Washington's quarantine lists Eurasian watermilfoil, hybrids only of two regulated parents."""
    out = Term("hybrids-of-listed-parents", "hybrids only where both parents are regulated")
    spicatum, sibiricum = PlantId("myriophyllum-spicatum"), PlantId("myriophyllum-sibiricum")
    hybrid = a_subject(
        "myriophyllum-spicatum-x-sibiricum", hybrid_parents=(spicatum, sibiricum), rank="hybrid"
    )
    finding = find(law(broken_off(an_entry(spicatum, terms=(out,)))), hybrid, SELL)
    assert (finding.outcome, finding.open_for_gaps_alone) == ("undetermined", True)
    assert "both parents" in finding.reasons[0]


def test_one_list_that_names_it_for_other_acts_does_not_close_another_that_breaks_off() -> None:
    control = a_list(an_entry(), classes=(a_class(acts=("release",)),))
    finding = find(law(control, broken_off(OTHER)), a_subject(), SELL)
    assert finding.outcome == "undetermined"
    assert finding.open_for_gaps_alone
    assert finding.citations
    assert find(law(control), a_subject(), SELL).outcome == "listed-other-acts"


def test_what_is_barred_stays_barred_and_verified_beside_a_list_that_breaks_off() -> None:
    finding = find(law(a_list(an_entry()), broken_off(OTHER)), a_subject(), SELL)
    assert (finding.outcome, finding.verified, finding.gaps) == ("prohibited", True, ())
    assert not any("not loaded in full" in reason for reason in finding.reasons)


@pytest.mark.parametrize(
    ("completeness", "classes", "act", "open_"),
    [
        # A copy that breaks off may go on with classes of other acts.
        ("truncated", (a_class(acts=("sell",)),), "sell", True),
        ("truncated", (a_class(acts=("sell",)),), "possess", True),
        ("truncated", (), "sell", True),
        # A rule that restricts no act at all does not in the part that is missing either.
        ("truncated", (a_class(acts=()),), "sell", False),
        ("truncated", (a_class(acts=(), acts_known=False),), "sell", True),
        # Of a rule without its plants the acts are known.
        ("none", (a_class(acts=("release",)),), "release", True),
        ("none", (a_class(acts=("release",)),), "sell", False),
        ("none", (a_class(acts=("release",), acts_known=False),), "sell", True),
        ("none", (), "sell", True),
        ("partial", (a_class(acts=("sell",)),), "sell", False),
        ("complete", (a_class(acts=("sell",)),), "sell", False),
    ],
)
def test_a_part_not_held_leaves_open_the_acts_that_it_may_restrict(
    completeness: Completeness, classes: tuple[object, ...], act: Act, open_: bool
) -> None:
    cut = a_list(list_id="us-oh-cut", completeness=completeness, classes=classes)
    finding = find(law(a_list(OTHER), cut), a_subject(), Question(OHIO, act, ON))
    assert finding.outcome == ("undetermined" if open_ else "no-entry-found")


def test_a_rule_without_its_plants_says_that_they_are_not_held() -> None:
    cut = a_list(completeness="none", list_id="us-oh-cut", missing="director's order not found")
    finding = find(law(a_list(OTHER), cut), a_subject(), SELL)
    assert finding.reasons == (
        "Test Code 1: loaded without its plants (director's order not found), it may reach this one.",
    )


def test_a_federal_list_that_breaks_off_opens_only_what_crosses_a_state_line() -> None:
    federal = broken_off(OTHER, jurisdiction=FEDERAL, classes=(a_class(acts=("transport",)),))
    book = law(a_list(OTHER), federal)
    outcomes = [
        find(book, a_subject(), Question(OHIO, "transport", ON, movement=movement)).outcome
        for movement in ("interstate", "unknown", "within")
    ]
    assert outcomes == ["undetermined", "no-entry-found", "no-entry-found"]


def test_an_ordinance_or_own_rule_that_breaks_off_opens_nothing() -> None:
    for kind in ("ordinance", "own-rule"):
        book = law(a_list(OTHER), broken_off(OTHER, kind=kind))
        assert find(book, a_subject(), SELL).outcome == "no-entry-found"


def test_a_list_of_two_entries_clears_nothing_where_no_list_was_held() -> None:
    none_held = a_list(completeness="none", list_id="us-oh-none", classes=())
    before = find(law(none_held), a_subject(), SELL)
    two = a_list(OTHER, an_entry("salvinia"), completeness="partial")
    after = find(law(none_held, two), a_subject(), SELL)
    assert (before.outcome, after.outcome) == ("undetermined", "undetermined")
    assert after.coverage == "partial"


@given(BOOKS, LISTS, SUBJECTS, QUESTIONS)
def test_no_list_added_clears_what_was_open_beside_a_list_without_its_plants(
    versions: list[ListVersion], added: ListVersion, subject: object, question: Question
) -> None:
    none_held = a_list(completeness="none", list_id="us-oh-none", classes=())
    if added.list_id in {version.list_id for version in versions}:
        return
    before = find(law(none_held, *versions), subject, question)  # type: ignore[arg-type]
    after = find(law(none_held, *versions, added), subject, question)  # type: ignore[arg-type]
    assert OUTCOMES.index(after.outcome) <= OUTCOMES.index(before.outcome)
    assert OUTCOMES.index(after.outcome) <= OUTCOMES.index("undetermined")


def test_a_list_of_which_no_version_is_held_for_the_day_leaves_what_another_bars_unverified() -> (
    None
):
    """The other list may have had an exception, a permit or a later start."""
    later = a_list(OTHER, list_id="us-oh-later", effective_from=date(2027, 1, 1))
    finding = find(law(a_list(an_entry()), later), a_subject(), SELL)
    assert (finding.outcome, finding.verified) == ("prohibited", False)
    assert "No version of Invented list (Test Code 1) in force on 2026-06-01" in finding.reasons[-1]
    assert find(law(a_list(an_entry())), a_subject(), SELL).verified


def test_a_state_of_which_no_list_is_held_says_so() -> None:
    finding = find(law(), a_subject(), Question(Jurisdiction("US-KY"), "sell", ON))
    assert finding.reasons == (
        "No list of Kentucky is loaded with its plants, so nothing can be said of its law.",
    )
    assert finding.open_for_gaps_alone
