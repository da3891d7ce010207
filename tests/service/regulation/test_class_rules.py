"""Classes that reach every aquatic plant, go by a definition, or restrict no act."""

import pytest

from service.regulation.finding import Finding, Question, find
from service.regulation.law import LawBook, Office, Term
from service.regulation.subject import Aquatic
from service.values.vocabulary import Act, Outcome
from tests.service.regulation.builders import OHIO, ON, a_class, a_list, a_subject, an_entry, law

WATERS = Term("only-where", "waters of the state", acts=("plant", "release"))
EVERY = a_class(
    "Any aquatic plant",
    acts=("plant", "release", "import"),
    permit="yes",
    every_aquatic_plant=True,
    terms=(WATERS,),
)
BOOK = law(a_list(an_entry("hydrilla-verticillata")), a_list(list_id="us-oh-all", classes=(EVERY,)))


def asked(act: Act, aquatic: Aquatic | None) -> Finding:
    return find(BOOK, a_subject(aquatic=aquatic), Question(OHIO, act, ON))


@pytest.mark.parametrize(
    ("aquatic", "act", "outcome"),
    [
        ("yes", "import", "permit-required"),
        ("yes", "plant", "conditional"),
        ("yes", "release", "conditional"),
        ("yes", "sell", "no-entry-found"),
        ("wet-ground", "import", "conditional"),
        (None, "import", "conditional"),
        ("no", "import", "no-entry-found"),
        ("no", "plant", "no-entry-found"),
    ],
)
def test_a_rule_on_every_aquatic_plant_reaches_aquatic_plants_for_its_acts(
    aquatic: Aquatic | None, act: Act, outcome: Outcome
) -> None:
    assert asked(act, aquatic).outcome == outcome


def test_it_is_cited_by_what_it_reaches_and_shows_its_exceptions() -> None:
    finding = asked("plant", "yes")
    citation = finding.citations[0]
    assert (citation.name_as_listed, citation.condition, citation.list_id) == (
        "every aquatic plant",
        "waters of the state",
        "us-oh-all",
    )
    assert "waters of the state" in finding.reasons[0]


def test_whether_it_is_aquatic_is_said_where_it_is_open() -> None:
    assert "grows on wet ground" in asked("import", "wet-ground").reasons[0]
    assert "is not known here" in asked("import", None).reasons[0]


def test_a_rule_of_which_not_all_acts_are_known_leaves_the_others_open() -> None:
    rule = a_class("Any", acts=("import",), every_aquatic_plant=True, acts_known=False)
    book = law(a_list(classes=(rule,)))
    assert (
        find(book, a_subject(aquatic="yes"), Question(OHIO, "sell", ON)).outcome == "undetermined"
    )


@pytest.mark.parametrize(
    ("acts", "acts_known", "act", "outcome", "verified"),
    [
        (("sell",), True, "sell", "prohibited", True),
        (("sell",), True, "possess", "listed-other-acts", True),
        (("sell",), False, "sell", "prohibited", True),
        (("sell",), False, "possess", "undetermined", False),
        ((), True, "sell", "listed-other-acts", True),
        ((), False, "sell", "undetermined", False),
    ],
)
def test_acts_that_were_established_hold_and_the_others_are_unknown(
    acts: tuple[Act, ...], acts_known: bool, act: Act, outcome: Outcome, verified: bool
) -> None:
    book = law(a_list(an_entry(), classes=(a_class(acts=acts, acts_known=acts_known),)))
    finding = find(book, a_subject(), Question(OHIO, act, ON))
    assert (finding.outcome, finding.verified) == (outcome, verified)


@pytest.mark.parametrize("duty", ["control", "eradicate", "report"])
def test_a_class_that_restricts_no_act_says_what_it_asks_for(duty: str) -> None:
    rule = a_class(acts=(), duty=duty, summary="Owners of ground are given notice.")
    finding = find(
        law(a_list(an_entry(), classes=(rule,))), a_subject(), Question(OHIO, "sell", ON)
    )
    assert finding.outcome == "listed-other-acts"
    assert finding.reasons[0] == (
        "Invented list (Test Code 1) lists Trapa natans as A, a class that was read and bars none "
        "of the acts asked about. Owners of ground are given notice. "
        f"This class carries a duty to {duty} it."
    )


def test_an_open_definition_is_a_note_on_every_finding_of_its_acts_and_opens_none() -> None:
    rule = a_class("Invasive", acts=("sell",), open_definition=True, summary="What does harm.")
    act = a_list(list_id="us-oh-act", title="Harm act", classes=(rule,), completeness="none")
    book = law(a_list(an_entry("hydrilla-verticillata")), act)
    note = (
        "Harm act (Test Code 1) goes by what a plant does and not by a list, so it may reach one "
        "that no list names: What does harm."
    )
    for plant, outcome in (
        ("trapa-natans", "no-entry-found"),
        ("hydrilla-verticillata", "prohibited"),
    ):
        finding = find(book, a_subject(plant), Question(OHIO, "sell", ON))
        assert (finding.outcome, finding.reasons[-1]) == (outcome, note)
        assert note not in find(book, a_subject(plant), Question(OHIO, "import", ON)).reasons


@pytest.mark.parametrize(
    ("act", "said"),
    [
        ("sell", "Office of trade (https://trade.example)"),
        ("propagate", "Office of trade (https://trade.example)"),
        (
            "plant",
            "Office of waters (https://waters.example, address from memory, not opened)",
        ),
        (
            "possess",
            "Office of waters (https://waters.example, address from memory, not opened)",
        ),
    ],
)
def test_whom_to_ask_goes_by_the_act_and_says_whether_the_address_was_opened(
    act: Act, said: str
) -> None:
    offices = (
        Office(OHIO, "trade", "Office of trade", "https://trade.example", "read"),
        Office(OHIO, "waters", "Office of waters", "https://waters.example", "memory"),
    )
    book = LawBook((a_list(an_entry()),), offices)
    assert find(book, a_subject(), Question(OHIO, act, ON)).confirm_with == said


def test_without_an_office_the_authorities_of_the_lists_are_named() -> None:
    two = a_list(
        an_entry(),
        list_id="us-oh-b",
        authority="Board of weeds (Code 1; Code 2); Department of waters",
    )
    finding = find(law(a_list(an_entry()), two), a_subject(), Question(OHIO, "sell", ON))
    assert finding.confirm_with == (
        "Board of weeds (Code 1; Code 2); Department of waters; Invented department"
    )
    assert find(law(), a_subject(), Question(OHIO, "sell", ON)).confirm_with.endswith("of Ohio")
