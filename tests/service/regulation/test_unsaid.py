"""What a list does not say: cultivars, hybrids, and native plants inside a wide entry."""

from dataclasses import replace

import pytest

from service.regulation.finding import Finding, Question, find
from service.regulation.law import Entry, Scope, Term
from service.regulation.subject import Subject
from service.values.vocabulary import FEDERAL, Jurisdiction, PlantId, Rank
from tests.service.regulation.builders import OHIO, ON, a_list, a_subject, an_entry, law

SELL = Question(OHIO, "sell", ON)
LISTED = an_entry("nelumbo-nucifera")
CULTIVAR = a_subject("nelumbo-nucifera", cultivar="chawan basu")
HYBRID = a_subject(
    "nelumbo-hybrids",
    rank="cultivar group",
    hybrid_parents=(PlantId("nelumbo-nucifera"), PlantId("nelumbo-lutea")),
)
PARENTS_UNKNOWN = a_subject(
    "nelumbo-hybrids",
    rank="cultivar group",
    genus_members=(PlantId("nelumbo-nucifera"), PlantId("nelumbo-lutea")),
)


def asked(entry: Entry, subject: Subject) -> Finding:
    return find(law(a_list(entry)), subject, SELL)


@pytest.mark.parametrize(
    ("subject", "scope", "word"),
    [(CULTIVAR, "cultivars", "cultivars"), (HYBRID, "hybrids", "hybrids")],
)
def test_unsaid_coverage_is_strict_and_alike_for_cultivars_and_hybrids_and_says_so(
    subject: Subject, scope: Scope, word: str
) -> None:
    finding = asked(LISTED, subject)
    assert (finding.outcome, finding.verified) == ("prohibited", False)
    assert f"does not say whether {word} are covered" in finding.reasons[0]
    assert "rests on what the list does not say" in finding.reasons[0]
    said = asked(replace(LISTED, scope=(scope,)), subject)
    assert (said.outcome, said.verified) == ("prohibited", True)
    assert "does not say" not in said.reasons[0]


def test_a_group_of_hybrids_whose_parents_are_not_recorded_is_conditional() -> None:
    finding = asked(LISTED, PARENTS_UNKNOWN)
    assert finding.outcome == "conditional"
    assert "parents are not recorded" in finding.reasons[0]


def test_recorded_parents_answer_for_a_group_and_the_rest_of_the_genus_does_not() -> None:
    group = replace(HYBRID, genus_members=(PlantId("nelumbo-pentapetala"),))
    assert asked(an_entry("nelumbo-pentapetala"), group).outcome == "no-entry-found"


def test_a_cultivar_of_a_species_in_a_listed_genus_is_taken_strictly_too() -> None:
    finding = asked(an_entry("nelumbo", rank="genus"), CULTIVAR)
    assert (finding.outcome, finding.verified) == ("prohibited", False)
    assert "takes in Nelumbo nucifera" in finding.reasons[0]


@pytest.mark.parametrize("both", [True, False])
def test_hybrids_only_of_listed_parents_are_covered_where_both_are_listed(both: bool) -> None:
    """Wash. Admin. Code § 16-752-505 has such a clause."""
    term = Term("hybrids-of-listed-parents", "hybrids only where both parents are regulated")
    entries = [replace(LISTED, terms=(term,))]
    if both:
        entries.append(an_entry("nelumbo-lutea", terms=(term,)))
    finding = find(law(a_list(*entries)), HYBRID, SELL)
    assert finding.outcome == ("prohibited" if both else "no-entry-found")


def americanus(**changes: object) -> Subject:
    species = PlantId("phragmites-australis")
    plant = PlantId("phragmites-australis-subsp-americanus")
    return a_subject(
        plant,
        rank="subspecies",
        lineage=(plant, species, PlantId("phragmites")),
        **changes,
    )


SPECIES = an_entry("phragmites-australis")


@pytest.mark.parametrize(
    ("native", "states", "scope", "outcome"),
    [
        ("yes", (), (), "conditional"),
        (None, (OHIO,), (), "conditional"),
        ("no", (), (), "prohibited"),
        (None, (), (), "prohibited"),
        ("yes", (OHIO,), ("subordinate-taxa",), "prohibited"),
    ],
)
def test_a_native_subspecies_of_a_listed_species_is_conditional_where_the_reach_was_not_read(
    native: str | None, states: tuple[Jurisdiction, ...], scope: tuple[Scope, ...], outcome: str
) -> None:
    subject = americanus(native=native, native_states=frozenset(states))
    finding = asked(replace(SPECIES, scope=scope), subject)
    assert finding.outcome == outcome
    assert ("whether the list means it" in finding.reasons[0]) == (outcome == "conditional")


@pytest.mark.parametrize(
    ("states", "place", "outcome"),
    [
        ((OHIO,), OHIO, "conditional"),
        ((Jurisdiction("US-FL"),), OHIO, "prohibited"),
        ((Jurisdiction("US-FL"),), FEDERAL, "conditional"),
        ((), FEDERAL, "prohibited"),
    ],
)
def test_a_species_of_a_listed_genus_is_spared_the_doubt_where_it_is_foreign(
    states: tuple[Jurisdiction, ...], place: Jurisdiction, outcome: str
) -> None:
    """Variable milfoil is native to the south and what New Hampshire's genus entry is for."""
    subject = a_subject("myriophyllum-heterophyllum", native="yes", native_states=frozenset(states))
    entry = an_entry("myriophyllum", rank="genus")
    finding = find(law(a_list(entry, jurisdiction=place)), subject, Question(place, "sell", ON))
    assert finding.outcome == outcome


def test_where_it_is_native_is_said() -> None:
    ohio = asked(SPECIES, americanus(native="yes", native_states=frozenset({OHIO})))
    assert "is native to Ohio" in ohio.reasons[0]
    assert "is native to North America" in asked(SPECIES, americanus(native="yes")).reasons[0]


@pytest.mark.parametrize("rank", ["subspecies", "variety"])
def test_where_the_list_names_one_subspecies_another_is_not_it(rank: Rank) -> None:
    entry = an_entry(
        "phragmites-australis", rank=rank, name_as_listed="Phragmites subsp. australis"
    )
    finding = asked(entry, americanus(native="no"))
    assert finding.outcome == "no-entry-found"
    assert "Phragmites subsp. australis, which" in finding.reasons[0]
