"""Each outcome with its precedence, and the properties that hold over all law."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from random import Random
from typing import TypeVar

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.regulation.finding import Finding, Question, find
from service.regulation.for_name import Naming, find_for_name
from service.regulation.law import Entry, LawBook, ListVersion, Term
from service.regulation.subject import Subject
from service.store.library import Library
from service.values.vocabulary import ACTS, FEDERAL, OUTCOMES, STATES, Act, Jurisdiction, PlantId
from tests.service.regulation.builders import OHIO, ON, a_class, a_list, a_subject, an_entry, law

T = TypeVar("T")
SELL = Question(OHIO, "sell", ON)


def outcome(book: LawBook, subject: Subject | None = None, question: Question = SELL) -> str:
    return find(book, subject or a_subject(), question).outcome


def test_a_listed_plant_whose_sale_is_barred_is_prohibited() -> None:
    finding = find(law(a_list(an_entry())), a_subject(), SELL)
    assert (finding.outcome, finding.verified) == ("prohibited", True)
    assert finding.citations[0].citation == "Test Code 1"


def test_a_permit_open_to_trade_makes_it_permit_required() -> None:
    assert outcome(law(a_list(an_entry(), classes=(a_class(permit="yes"),)))) == "permit-required"


def test_a_permit_for_research_alone_leaves_it_prohibited() -> None:
    finding = find(
        law(a_list(an_entry(), classes=(a_class(permit="yes", permit_for=("research",)),))),
        a_subject(),
        SELL,
    )
    assert finding.outcome == "prohibited"
    assert "permits are given for research alone" in finding.reasons[0]


def test_a_limit_that_the_request_does_not_answer_makes_it_conditional() -> None:
    words = Term("unstructured", "only in leap years")
    finding = find(law(a_list(an_entry(terms=(words,)))), a_subject(), SELL)
    assert finding.outcome == "conditional"
    assert "only in leap years" in finding.reasons[0]


def test_a_class_whose_acts_were_not_established_is_undetermined() -> None:
    classes = (a_class(acts=(), acts_known=False),)
    assert outcome(law(a_list(an_entry(), classes=classes))) == "undetermined"


def test_a_class_that_bars_other_acts_says_so() -> None:
    assert (
        outcome(law(a_list(an_entry(), classes=(a_class(acts=("release",)),))))
        == "listed-other-acts"
    )


def test_no_entry_says_how_completely_the_lists_are_held() -> None:
    other = an_entry("hydrilla-verticillata")
    complete = find(law(a_list(other)), a_subject(), SELL)
    partial = find(law(a_list(other, completeness="partial")), a_subject(), SELL)
    assert (complete.outcome, complete.coverage, complete.verified) == (
        "no-entry-found",
        "complete",
        True,
    )
    assert (partial.outcome, partial.coverage, partial.verified) == (
        "no-entry-found",
        "partial",
        False,
    )


@pytest.mark.parametrize(
    "book",
    [law(), law(a_list(completeness="partial"))],
    ids=["no list", "a list without its plants"],
)
def test_a_jurisdiction_without_plants_held_is_undetermined(book: LawBook) -> None:
    finding = find(book, a_subject(), SELL)
    assert (finding.outcome, finding.coverage) == ("undetermined", "none")


def test_the_strictest_of_several_entries_decides_and_all_are_cited() -> None:
    book = law(
        a_list(an_entry(), list_id="us-oh-one", classes=(a_class(acts=("release",)),)),
        a_list(an_entry(), list_id="us-oh-two", classes=(a_class(permit="yes"),)),
        a_list(an_entry(), list_id="us-oh-three"),
    )
    finding = find(book, a_subject(), SELL)
    assert finding.outcome == "prohibited"
    assert [citation.outcome for citation in finding.citations] == [
        "prohibited",
        "permit-required",
        "listed-other-acts",
    ]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"entries": (an_entry(how_known="memory"),)}, "from memory"),
        ({"classes": (a_class(how_known="partly-read"),)}, "read only in part"),
        (
            {"entries": (an_entry(terms=(Term("doubt", "current text not read"),)),)},
            "current text not read",
        ),
        ({"how_known": "memory"}, "from memory"),
        ({"amended": date(2026, 7, 1)}, "as amended 2026-07-01"),
    ],
)
def test_whatever_was_not_read_leaves_the_finding_unverified(
    changes: dict[str, object], why: str
) -> None:
    finding = find(law(replace(a_list(an_entry()), **changes)), a_subject(), SELL)  # type: ignore[arg-type]
    assert not finding.verified
    assert why in finding.reasons[0]


def test_a_day_before_the_list_took_effect_is_a_gap_not_a_clearance() -> None:
    book = law(a_list(an_entry(), effective_from=date(2020, 1, 4)))
    before = find(book, a_subject(), Question(OHIO, "sell", date(2020, 1, 3)))
    assert before.outcome == "undetermined"
    assert "2020-01-03" in before.reasons[0]
    assert outcome(book, question=Question(OHIO, "sell", date(2020, 1, 4))) == "prohibited"


def test_a_superseded_version_gives_way_to_the_next() -> None:
    old = a_list(an_entry(), superseded_on=date(2024, 1, 1))
    new = a_list(an_entry("hydrilla-verticillata"), effective_from=date(2024, 1, 1))
    book = law(old, new)
    assert outcome(book, question=Question(OHIO, "sell", date(2023, 12, 31))) == "prohibited"
    assert outcome(book, question=Question(OHIO, "sell", date(2024, 1, 1))) == "no-entry-found"


def federal(*entries: Entry) -> ListVersion:
    return a_list(
        *entries,
        list_id="us-test",
        jurisdiction=FEDERAL,
        classes=(a_class(acts=("import", "transport", "release"), permit="yes"),),
    )


@pytest.mark.parametrize(
    ("act", "movement", "expected"),
    [
        ("import", "unknown", "permit-required"),
        ("export", "unknown", "permit-required"),
        ("transport", "unknown", "conditional"),
        ("transport", "interstate", "permit-required"),
        ("transport", "within", "no-entry-found"),
        ("release", "unknown", "conditional"),
        ("sell", "unknown", "listed-other-acts"),
    ],
)
def test_federal_law_bears_on_movement_between_states(
    act: Act, movement: str, expected: str
) -> None:
    book = law(a_list(an_entry("hydrilla-verticillata")), federal(an_entry()))
    question = Question(OHIO, act, ON, movement=movement)  # type: ignore[arg-type]
    assert outcome(book, question=question) == expected


def test_a_state_whose_law_is_not_held_stays_undetermined_beside_a_federal_entry() -> None:
    finding = find(law(federal(an_entry())), a_subject(), SELL)
    assert finding.outcome == "undetermined"
    assert finding.citations


def test_a_rule_that_is_no_law_is_answered_apart() -> None:
    house = a_list(an_entry(), list_id="house", kind="own-rule")
    finding = find(law(a_list(an_entry("hydrilla-verticillata")), house), a_subject(), SELL)
    assert finding.outcome == "no-entry-found"
    assert [rule.outcome for rule in finding.own_rules] == ["prohibited"]


def test_a_name_near_in_spelling_is_never_given_a_clear_answer() -> None:
    book = law(a_list(an_entry("hydrilla-verticillata")))
    naming = Naming("spelling", (a_subject(),))
    finding = find_for_name(book, naming, SELL)
    assert finding.outcome == "undetermined"
    assert "spelling" in finding.reasons[0]


def test_a_shared_name_is_given_the_strictest_answer() -> None:
    book = law(a_list(an_entry()))
    naming = Naming("shared", (a_subject("eleocharis-dulcis"), a_subject()))
    finding = find_for_name(book, naming, SELL)
    assert (finding.outcome, finding.verified) == ("prohibited", False)


def test_a_label_that_nobody_knows_is_undetermined() -> None:
    assert (
        find_for_name(law(a_list(an_entry())), Naming("none", ()), SELL).outcome == "undetermined"
    )


def test_every_aquatic_plant_may_be_reached_without_an_entry(library: Library) -> None:
    """10 V.S.A. § 1454: transport of any aquatic plant to or from a water of the state."""
    subject = library.taxonomy.subject(PlantId("nymphaea-odorata"))
    finding = find(library.law, subject, Question(Jurisdiction("US-VT"), "transport", ON))
    assert finding.outcome == "conditional"
    assert finding.citations[0].list_id == "us-vt-aquatic-transport"


PLANTS = ("trapa-natans", "trapa", "hydrilla-verticillata", "salvinia-molesta", "salvinia")
TERMS = st.sampled_from(
    [
        Term("unstructured", "words"),
        Term("from-date", "listed from 2026-01-01", on=date(2026, 1, 1)),
        Term("except-native", "native species"),
        Term("except-taxa", "except Trapa natans", taxa=(PlantId("trapa-natans"),)),
        Term("doubt", "not read"),
        Term("only-where", "public waters", acts=("plant", "release")),
    ]
)
ENTRIES = st.builds(
    an_entry,
    st.sampled_from(PLANTS),
    terms=st.lists(TERMS, max_size=2).map(tuple),
    how_known=st.sampled_from(["read", "memory"]),
    condition=st.sampled_from(["", "a", "b"]),
)
LISTS = st.builds(
    lambda entries, list_id, acts, permit, completeness: a_list(
        *entries,
        list_id=list_id,
        classes=(a_class(acts=acts, permit=permit),),
        completeness=completeness,
    ),
    st.lists(ENTRIES, max_size=5),
    st.sampled_from(["us-oh-a", "us-oh-b", "us-oh-c"]),
    st.lists(st.sampled_from(ACTS), unique=True, max_size=6).map(tuple),
    st.sampled_from(["yes", "no", "unknown"]),
    st.sampled_from(["complete", "partial"]),
)
BOOKS = st.lists(LISTS, max_size=3, unique_by=lambda version: version.list_id)
SUBJECTS = st.sampled_from(PLANTS).map(a_subject)
QUESTIONS = st.builds(
    Question, st.just(OHIO), st.sampled_from(ACTS), st.dates(date(2025, 1, 1), date(2027, 1, 1))
)


def strictness(finding: Finding) -> int:
    return OUTCOMES.index(finding.outcome)


@given(BOOKS, LISTS, SUBJECTS, QUESTIONS)
def test_adding_a_list_never_makes_a_finding_less_strict(
    versions: list[ListVersion], added: ListVersion, subject: Subject, question: Question
) -> None:
    """Save where nothing was known before for want of a list."""
    before = find(law(*versions), subject, question)
    if before.coverage == "none" or added.list_id in {version.list_id for version in versions}:
        return
    assert strictness(find(law(*versions, added), subject, question)) <= strictness(before)


@given(BOOKS, SUBJECTS, QUESTIONS, st.randoms(use_true_random=False))
def test_the_order_of_lists_and_entries_does_not_matter(
    versions: list[ListVersion], subject: Subject, question: Question, random: Random
) -> None:
    shuffled = [
        replace(version, entries=tuple(_shuffled(version.entries, random)))
        for version in _shuffled(versions, random)
    ]
    assert find(law(*shuffled), subject, question) == find(law(*versions), subject, question)


def _shuffled(values: Iterable[T], random: Random) -> list[T]:
    copy = list(values)
    random.shuffle(copy)
    return copy


@given(BOOKS, SUBJECTS, QUESTIONS)
def test_every_finding_of_a_listing_has_a_citation(
    versions: list[ListVersion], subject: Subject, question: Question
) -> None:
    finding = find(law(*versions), subject, question)
    assert finding.reasons
    assert finding.confirm_with
    if finding.outcome not in ("no-entry-found", "undetermined"):
        assert finding.citations


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_old_and_new_names_of_a_plant_give_the_same_finding(
    library: Library, data: st.DataObject
) -> None:
    synonyms = [name for name in library.names if name.kind == "synonym"]
    synonym = data.draw(st.sampled_from(synonyms))
    resolution = library.resolver.resolve(synonym.name)
    accepted = library.resolver.resolve(library.plants[synonym.plant_id].accepted_name)
    assume(resolution.confirmed and accepted.confirmed)
    question = Question(data.draw(st.sampled_from(STATES)), data.draw(st.sampled_from(ACTS)), ON)
    by_synonym = find_for_name(library.law, library.naming(resolution), question)
    assert by_synonym == find_for_name(library.law, library.naming(accepted), question)


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_nothing_unverified_looks_verified_on_the_reference(
    library: Library, data: st.DataObject
) -> None:
    listed = sorted(
        {entry.plant_id for version in library.law.versions for entry in version.entries}
    )
    subject = library.taxonomy.subject(data.draw(st.sampled_from(listed)))
    finding = find(
        library.law,
        subject,
        Question(data.draw(st.sampled_from(STATES)), data.draw(st.sampled_from(ACTS)), ON),
    )
    deciding = [citation for citation in finding.citations if citation.outcome == finding.outcome]
    if finding.verified and finding.citations:
        assert any(citation.how_known == "read" for citation in deciding)


@pytest.mark.parametrize("days", [-1, 0, 1])
def test_a_dated_entry_begins_on_its_day(library: Library, days: int) -> None:
    """Minnesota listed yellow floating heart from 20 Feb 2024 (DNR rulemaking page, table of
    cases).
    """
    on = date(2024, 2, 20) + timedelta(days=days)
    finding = find(
        library.law,
        library.taxonomy.subject(PlantId("nymphoides-peltata")),
        Question(Jurisdiction("US-MN"), "sell", on),
    )
    assert (finding.outcome == "prohibited") == (days >= 0)
