"""The finding for a label: strictest over its meanings, and no clearer than its name is sure."""

import pytest

from service.regulation.finding import Finding, Question
from service.regulation.for_name import Certainty, Naming, find_for_name
from service.regulation.law import Completeness, ListVersion
from service.values.vocabulary import Act
from tests.service.regulation.builders import OHIO, ON, a_class, a_list, a_subject, an_entry, law

SELL = Question(OHIO, "sell", ON)
TRAPA, HYDRILLA = a_subject(), a_subject("hydrilla-verticillata")


def asked(
    certainty: Certainty, *plants: str, lists: tuple[ListVersion, ...], act: Act = "sell"
) -> Finding:
    naming = Naming(certainty, tuple(a_subject(plant) for plant in plants))
    return find_for_name(law(*lists), naming, Question(OHIO, act, ON))


@pytest.mark.parametrize("certainty", ["spelling", "genus"])
@pytest.mark.parametrize(
    ("plant", "plain"),
    [("eleocharis-dulcis", "no-entry-found"), ("trapa-natans", "listed-other-acts")],
)
def test_a_guess_or_a_genus_never_clears(certainty: Certainty, plant: str, plain: str) -> None:
    """ "Iris 4in" may be yellow flag: what was found belongs to one of many."""
    lists = (a_list(an_entry(), classes=(a_class(acts=("release",)),)),)
    assert asked("confirmed", plant, lists=lists).outcome == plain
    finding = asked(certainty, plant, lists=lists)
    assert (finding.outcome, finding.verified) == ("undetermined", False)
    assert {"spelling": "spelling", "genus": "genus"}[certainty] in finding.reasons[0]


@pytest.mark.parametrize("certainty", ["spelling", "genus", "shared"])
def test_an_unsure_name_keeps_what_is_strict_and_is_not_verified(certainty: Certainty) -> None:
    finding = asked(certainty, "trapa-natans", lists=(a_list(an_entry()),))
    assert (finding.outcome, finding.verified) == ("prohibited", False)


def test_a_name_that_several_plants_share_is_clear_where_each_of_them_is() -> None:
    lists = (a_list(an_entry()),)
    finding = asked("shared", "eleocharis-dulcis", "acorus-calamus", lists=lists)
    assert (finding.outcome, finding.verified) == ("no-entry-found", False)
    assert "more than one plant" in finding.reasons[0]


def test_what_lists_say_of_every_meaning_is_cited_once() -> None:
    lists = (
        a_list(an_entry()),
        a_list(
            an_entry("hydrilla-verticillata"),
            list_id="us-oh-b",
            classes=(a_class(acts=("release",)),),
        ),
    )
    finding = asked(
        "shared", "hydrilla-verticillata", "trapa-natans", "acorus-calamus", lists=lists
    )
    assert finding.outcome == "prohibited"
    assert [citation.name_as_listed for citation in finding.citations] == [
        "Trapa natans",
        "Hydrilla verticillata",
    ]
    assert sum("Hydrilla verticillata" in reason for reason in finding.reasons) == 1
    assert not any("No entry" in reason for reason in finding.reasons)


def test_own_rules_of_every_meaning_are_kept() -> None:
    own = a_list(an_entry(), an_entry("hydrilla-verticillata"), list_id="house", kind="own-rule")
    state = a_list(an_entry("acorus-calamus"))
    finding = asked("shared", "trapa-natans", "hydrilla-verticillata", lists=(state, own))
    assert {rule.citation.name_as_listed for rule in finding.own_rules} == {
        "Trapa natans",
        "Hydrilla verticillata",
    }


@pytest.mark.parametrize(
    ("certainty", "for_gaps_alone"), [("shared", True), ("spelling", False), ("genus", False)]
)
def test_an_unsure_name_is_open_for_more_than_the_law_not_held(
    certainty: Certainty, for_gaps_alone: bool
) -> None:
    lists = (a_list(an_entry(), completeness="truncated"),)
    finding = asked(certainty, "eleocharis-dulcis", lists=lists)
    assert finding.outcome == "undetermined"
    assert finding.open_for_gaps_alone == for_gaps_alone


@pytest.mark.parametrize(
    ("completeness", "coverage"), [("complete", "complete"), ("truncated", "partial")]
)
def test_a_label_that_nobody_knows_is_undetermined_and_says_whom_to_ask(
    completeness: Completeness, coverage: str
) -> None:
    book = law(a_list(an_entry(), completeness=completeness))
    for act in ("sell", "plant"):
        finding = find_for_name(book, Naming("none", ()), Question(OHIO, act, ON))
        assert finding == Finding(
            outcome="undetermined",
            act=act,
            jurisdiction=OHIO,
            coverage=coverage,  # type: ignore[arg-type]
            verified=False,
            reasons=("No plant is known by the label.",),
            confirm_with="Invented department",
        )
    assert not finding.citations
