"""What a finding says beside its outcome: the citation whole, and why an entry does or does not
reach a plant.
"""

from datetime import date

import pytest

from service.regulation.changes import changes_between
from service.regulation.finding import Finding, Question, find
from service.regulation.law import Term, TermKind
from service.regulation.subject import Subject
from service.values.vocabulary import CountyFips, PlantId
from tests.service.regulation.builders import OHIO, ON, a_class, a_list, a_subject, an_entry, law

SELL = Question(OHIO, "sell", ON, county=CountyFips("39095"))
TRAPA = PlantId("trapa-natans")


def with_term(kind: TermKind, subject: Subject, **changes: object) -> Finding:
    term = Term(kind, "the words", **changes)  # type: ignore[arg-type]
    return find(law(a_list(an_entry(terms=(term,)))), subject, SELL)


def test_a_citation_has_all_that_a_person_needs_to_find_and_check_the_entry() -> None:
    entry = an_entry(
        name_as_listed="",
        common_as_listed="water chestnut",
        exceptions="except as food",
        area="Lucas",
        condition="live plants",
    )
    version = a_list(
        entry, effective_from=date(2020, 1, 2), url="https://example.org", read_copy_date="2024"
    )
    citation = find(law(version), a_subject(), SELL).citations[0]
    assert (citation.name_as_listed, citation.exceptions, citation.area, citation.condition) == (
        "water chestnut",
        "except as food",
        "Lucas",
        "live plants",
    )
    assert (citation.effective_from, citation.url, citation.read_copy_date) == (
        date(2020, 1, 2),
        "https://example.org",
        "2024",
    )
    every = a_class(every_aquatic_plant=True)
    whole = find(law(a_list(classes=(every,))), a_subject(aquatic="yes"), SELL).citations[0]
    assert (whole.exceptions, whole.area, whole.condition) == ("", "", "")


def test_an_own_rule_is_given_with_its_title_and_reason_beside_the_law() -> None:
    house = a_list(an_entry(), list_id="house", kind="own-rule", title="House rule")
    for entry in (an_entry(), an_entry("hydrilla-verticillata")):
        rule = find(law(a_list(entry), house), a_subject(), SELL).own_rules[0]
        assert (rule.list_id, rule.title, rule.outcome) == ("house", "House rule", "prohibited")
        assert rule.reason.startswith("House rule (Test Code 1) lists Trapa natans as A")


@pytest.mark.parametrize(
    ("kind", "cultivar", "outcome", "said"),
    [
        ("except-variegated", "variegata", "no-entry-found", "is a variegated cultivar: the words"),
        ("except-variegated", "rubra", "conditional", "Whether 'Rubra' is among those left out"),
        ("except-forms", "variegata", "conditional", "is among those left out"),
        ("except-all-cultivars", "rubra", "no-entry-found", "Left out: the words."),
        ("except-approved-cultivars", "rubra", "conditional", "is among those left out"),
    ],
)
def test_cultivars_left_out_are_said_to_be(
    kind: TermKind, cultivar: str, outcome: str, said: str
) -> None:
    finding = with_term(kind, a_subject(cultivar=cultivar))
    assert finding.outcome == outcome
    assert said in finding.reasons[0]


def test_a_cultivar_left_out_by_name_is_and_another_is_not() -> None:
    named = with_term("except-cultivars", a_subject(cultivar="rubra"), cultivars=("rubra",))
    assert (named.outcome, "'Rubra' is left out by name: the words." in named.reasons[0]) == (
        "no-entry-found",
        True,
    )
    other = with_term("except-cultivars", a_subject(cultivar="alba"), cultivars=("rubra",))
    assert other.outcome == "prohibited"


def test_where_all_cultivars_and_hybrids_are_left_out_a_hybrid_is() -> None:
    hybrid = a_subject("trapa-x-alba", rank="hybrid", hybrid_parents=(TRAPA,))
    finding = with_term("except-all-cultivars", hybrid)
    assert (finding.outcome, "Left out: the words." in finding.reasons[0]) == (
        "no-entry-found",
        True,
    )


def test_a_species_part_of_which_is_left_out_is_conditional() -> None:
    below = PlantId("trapa-natans-var-pumila")
    finding = with_term("except-taxa", a_subject(below=(below,)), taxa=(below,))
    assert finding.outcome == "conditional"
    assert "Part of it is left out: the words." in finding.reasons[0]


@pytest.mark.parametrize(
    ("kind", "county", "outcome"),
    [
        ("only-counties", "39095", "prohibited"),
        ("only-counties", "39001", "no-entry-found"),
        ("except-counties", "39095", "no-entry-found"),
        ("except-counties", "39001", "prohibited"),
    ],
)
def test_a_county_decides_and_says_so(kind: TermKind, county: str, outcome: str) -> None:
    finding = with_term(kind, a_subject(), counties=(CountyFips(county),))
    assert finding.outcome == outcome
    assert ("Not in this county: the words." in finding.reasons[0]) == (outcome == "no-entry-found")


def test_a_species_of_which_a_strain_is_listed_is_conditional_below_it() -> None:
    entry = an_entry("phragmites-australis", rank="strain")
    plant = PlantId("phragmites-australis-var-berlandieri")
    subject = a_subject(
        plant, rank="variety", lineage=(plant, PlantId("phragmites-australis")), native="no"
    )
    finding = find(law(a_list(entry)), subject, SELL)
    assert finding.outcome == "conditional"
    assert "Phragmites australis is listed, which takes in" in finding.reasons[0]


def test_a_cultivar_that_is_the_listed_form_in_trade_is_covered() -> None:
    below = PlantId("imperata-cylindrica-var-rubra")
    entry = an_entry(below, rank="variety", name_as_listed="Imperata cylindrica var. rubra")
    subject = a_subject("imperata-cylindrica", below=(below,), cultivar="rubra")
    finding = find(law(a_list(entry)), subject, SELL)
    assert (finding.outcome, "'Rubra' is that plant in trade" in finding.reasons[0]) == (
        "prohibited",
        True,
    )


def test_changes_come_by_day_and_say_of_which_list_and_version_they_are() -> None:
    listed = Term("from-date", "listed from 2026-03-01", on=date(2026, 3, 1))
    early = a_list(an_entry(), list_id="us-oh-z", effective_from=date(2026, 2, 1))
    late = a_list(
        an_entry(terms=(listed,)), list_id="us-oh-a", effective_from=date(2020, 1, 1), title="Late"
    )
    found = changes_between(law(late, early), date(2026, 1, 1), date(2026, 6, 1))
    assert [(item.list_id, item.on) for item in found] == [
        ("us-oh-z", date(2026, 2, 1)),
        ("us-oh-a", date(2026, 3, 1)),
    ]
    dated = found[1]
    assert (dated.jurisdiction, dated.title, dated.version_before, dated.version_after) == (
        OHIO,
        "Late",
        date(2020, 1, 1),
        date(2020, 1, 1),
    )
