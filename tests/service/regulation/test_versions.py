"""Versions of a list: which one a day is answered by, gaps between them, and what lists of one's
own may do to an answer.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.regulation.changes import boundary_days
from service.regulation.finding import Finding, Question, find
from service.regulation.law import LawBook, ListVersion, Term
from service.store.library import Library
from service.values.vocabulary import (
    ACTS,
    FEDERAL,
    OUTCOMES,
    STATES,
    Act,
    CountyFips,
    Jurisdiction,
    ListId,
    Outcome,
    PlantId,
)
from tests.service.regulation.builders import OHIO, a_class, a_list, a_subject, an_entry, law

DAY = timedelta(days=1)
TRAPA = a_subject()

FIRST = a_list(an_entry(), effective_from=date(2010, 1, 1), superseded_on=date(2015, 6, 1))
SECOND = a_list(an_entry("hydrilla-verticillata"), effective_from=date(2018, 1, 1))
THIRD = a_list(an_entry(), classes=(a_class(permit="yes"),), effective_from=date(2024, 7, 1))
BOOK = law(THIRD, FIRST, SECOND)


def on(day: date, book: LawBook = BOOK, act: Act = "sell") -> Finding:
    return find(book, TRAPA, Question(OHIO, act, day))


@pytest.mark.parametrize(
    ("day", "outcome"),
    [
        (date(2009, 12, 31), "undetermined"),
        (date(2010, 1, 1), "prohibited"),
        (date(2015, 5, 31), "prohibited"),
        (date(2015, 6, 1), "undetermined"),
        (date(2017, 12, 31), "undetermined"),
        (date(2018, 1, 1), "no-entry-found"),
        (date(2024, 6, 30), "no-entry-found"),
        (date(2024, 7, 1), "permit-required"),
    ],
)
def test_each_day_is_answered_by_the_version_in_force(day: date, outcome: Outcome) -> None:
    assert on(day).outcome == outcome


@pytest.mark.parametrize("day", [date(2009, 12, 31), date(2016, 1, 1)])
def test_a_gap_in_time_says_which_list_is_missing_for_which_day(day: date) -> None:
    finding = on(day)
    assert not finding.verified
    assert finding.reasons == (
        f"No version of Invented list (Test Code 1) in force on {day.isoformat()} is loaded.",
    )


def test_a_version_without_an_end_ends_where_the_next_begins() -> None:
    assert [version.superseded_on for version in BOOK.lists_of(OHIO)] == [
        date(2015, 6, 1),
        date(2024, 7, 1),
        None,
    ]


def test_a_version_never_outlives_the_next_whatever_end_it_states() -> None:
    book = law(replace(FIRST, superseded_on=date(2030, 1, 1)), SECOND)
    assert on(date(2019, 1, 1), book).outcome == "no-entry-found"


def test_an_undated_copy_that_was_amended_after_a_dated_version_follows_it() -> None:
    undated = a_list(an_entry("hydrilla-verticillata"), amended=date(2020, 3, 1))
    book = law(undated, replace(FIRST, superseded_on=None))
    assert (on(date(2020, 2, 29), book).outcome, on(date(2020, 3, 1), book).outcome) == (
        "prohibited",
        "no-entry-found",
    )


def test_an_undated_copy_alone_reaches_back_and_is_unverified_before_its_amendment() -> None:
    book = law(a_list(an_entry(), amended=date(2020, 3, 1)))
    before, after = on(date(2020, 2, 29), book), on(date(2020, 3, 1), book)
    assert (before.outcome, before.verified, after.outcome, after.verified) == (
        "prohibited",
        False,
        "prohibited",
        True,
    )
    assert "after the day asked about" in before.reasons[0]


def test_a_gap_in_federal_law_leaves_a_crossing_of_state_lines_undetermined() -> None:
    federal = a_list(
        an_entry(), list_id="us-test", jurisdiction=FEDERAL, effective_from=date(2020, 1, 1)
    )
    book = law(a_list(), federal)
    asked = [
        find(book, TRAPA, Question(OHIO, "import", date(2019, 1, 1), movement=movement)).outcome
        for movement in ("interstate", "within")
    ]
    assert asked == ["undetermined", "no-entry-found"]


@pytest.mark.parametrize(
    ("place", "plant", "act", "day", "before", "since"),
    [
        # Wis. Admin. Code ch. NR 40, in force from 2009-09-01
        ("US-WI", "trapa-natans", "sell", date(2009, 9, 1), "undetermined", "permit-required"),
        # Wis. Admin. Code § NR 40.05, Filipendula ulmaria listed 2015-05-01
        (
            "US-WI",
            "filipendula-ulmaria",
            "sell",
            date(2015, 5, 1),
            "no-entry-found",
            "permit-required",
        ),
        # Wash. Admin. Code § 16-752-610, Carex pendula from 2025-08-09 (agency post of 2025-08-04)
        ("US-WA", "carex-pendula", "sell", date(2025, 8, 9), "no-entry-found", "permit-required"),
        # Minnesota noxious weed list, Petasites japonicus listed from 2026-01-01
        ("US-MN", "petasites-japonicus", "sell", date(2026, 1, 1), "no-entry-found", None),
        # Me. do-not-sell list (01-001 C.M.R. ch. 273), Butomus umbellatus: sale barred from
        # 2024-01-01
        ("US-ME", "butomus-umbellatus", "sell", date(2024, 1, 1), "no-entry-found", None),
        # Mass. Prohibited Plant List, Alnus glutinosa: import barred from 2025-12-08
        ("US-MA", "alnus-glutinosa", "import", date(2025, 12, 8), "undetermined", None),
        # Mass. Prohibited Plant List, Alnus glutinosa: stock may be sold to 2028-12-31
        ("US-MA", "alnus-glutinosa", "sell", date(2029, 1, 1), "conditional", None),
        # 312 IAC 18-3-25: in force 2019-04-18 for plants not yet in the state, 2020-04-18 for those
        # in trade
        ("US-IN", "alnus-glutinosa", "sell", date(2019, 4, 18), "undetermined", "conditional"),
        ("US-IN", "alnus-glutinosa", "sell", date(2020, 4, 18), "conditional", None),
        # Md. Prohibited Invasive Plants, new law from 2024-06-01
        ("US-MD", "iris-pseudacorus", "sell", date(2024, 6, 1), "undetermined", None),
    ],
)
def test_the_reference_answers_otherwise_from_a_boundary_day_on(
    library: Library,
    place: str,
    plant: str,
    act: Act,
    day: date,
    before: Outcome,
    since: Outcome | None,
) -> None:
    """``since`` is None where the outcome after the day rests on the class alone, read in its
    own tests.
    """
    jurisdiction = Jurisdiction(place)
    assert day in boundary_days(library.law, jurisdiction)
    subject = library.taxonomy.subject(PlantId(plant))
    eve, morning = (
        find(library.law, subject, Question(jurisdiction, act, asked_on, movement="within"))
        for asked_on in (day - DAY, day)
    )
    assert eve.outcome == before
    assert OUTCOMES.index(morning.outcome) < OUTCOMES.index(eve.outcome)
    assert since is None or morning.outcome == since


def unchanging(finding: Finding) -> tuple[object, ...]:
    """All of a finding but its sentences, which name the day."""
    return (
        finding.outcome,
        finding.verified,
        finding.coverage,
        finding.citations,
        finding.own_rules,
        finding.lists_searched,
    )


@settings(deadline=None, max_examples=150)
@given(st.data())
def test_findings_of_the_reference_are_constant_between_boundary_days(
    library: Library, data: st.DataObject
) -> None:
    jurisdiction = data.draw(st.sampled_from(STATES))
    listed = sorted(
        {
            entry.plant_id
            for version in library.law.lists_of(jurisdiction)
            for entry in version.entries
        }
    ) or [PlantId("trapa-natans")]
    subject = library.taxonomy.subject(data.draw(st.sampled_from(listed)))
    act = data.draw(st.sampled_from(ACTS))
    edges = [date(1980, 1, 1), *boundary_days(library.law, jurisdiction), date(2035, 1, 1)]
    place = data.draw(st.integers(0, len(edges) - 2))
    begin, end = edges[place], edges[place + 1] - DAY
    between = data.draw(st.dates(begin, max(begin, end)))
    first, last = (
        find(library.law, subject, Question(jurisdiction, act, day)) for day in (begin, between)
    )
    assert unchanging(first) == unchanging(last)


DATES = st.dates(date(2010, 1, 1), date(2012, 12, 31))
TERMS = st.one_of(
    st.builds(lambda day: Term("from-date", "listed from then on", on=day), DATES),
    st.builds(
        lambda day: Term("sold-off-until", "stock may be sold", on=day, acts=("sell",)), DATES
    ),
    st.builds(
        lambda county: Term("only-counties", "one county", counties=(CountyFips(county),)),
        st.sampled_from(["39001", "39003"]),
    ),
)
VERSIONS = st.builds(
    lambda begins, ends, amended, plants, terms, list_id: a_list(
        *(an_entry(plant, terms=terms) for plant in plants),
        list_id=list_id,
        effective_from=begins,
        superseded_on=ends if ends and begins and ends > begins else None,
        amended=amended,
    ),
    st.none() | DATES,
    st.none() | DATES,
    st.none() | DATES,
    st.lists(st.sampled_from(["trapa-natans", "hydrilla-verticillata"]), max_size=2),
    st.lists(TERMS, max_size=2).map(tuple),
    st.sampled_from(["us-oh-a", "us-oh-b"]),
)
BOOKS = st.lists(
    VERSIONS, max_size=4, unique_by=lambda version: (version.list_id, version.effective_from)
)


@settings(deadline=None, max_examples=100)
@given(BOOKS, st.sampled_from(["sell", "possess"]), DATES)
def test_findings_over_any_versions_change_on_boundary_days_alone(
    versions: Sequence[ListVersion], act: Act, day: date
) -> None:
    book = law(*versions)
    if day not in boundary_days(book, OHIO):
        assert unchanging(on(day - DAY, book, act)) == unchanging(on(day, book, act))


@settings(deadline=None, max_examples=100)
@given(BOOKS, DATES)
def test_of_one_list_at_most_one_version_is_in_force_on_a_day(
    versions: Sequence[ListVersion], day: date
) -> None:
    in_force = [
        version.list_id for version in law(*versions).lists_of(OHIO) if version.in_force(day)
    ]
    assert len(in_force) == len(set(in_force))


def imported(
    kind: str,
    jurisdiction: Jurisdiction,
    plant: PlantId,
    acts: tuple[Act, ...],
    county: str | None,
    begins: date | None,
) -> ListVersion:
    terms = (Term("only-counties", "one county", counties=(CountyFips(county),)),) if county else ()
    return a_list(
        an_entry(plant, class_name="Listed", terms=terms),
        list_id="own-list",
        jurisdiction=jurisdiction,
        kind=kind,
        classes=(a_class("Listed", acts=acts),),
        effective_from=begins,
    )


IMPORTED = st.tuples(
    st.sampled_from(
        [
            "trapa-natans",
            "hydrilla-verticillata",
            "salvinia",
            "iris-pseudacorus",
            "nymphaea-odorata",
        ]
    ),
    st.lists(st.sampled_from(ACTS), unique=True).map(tuple),
    st.none() | st.sampled_from(["55025", "55007"]),
    st.none() | st.dates(date(2020, 1, 1), date(2030, 1, 1)),
)


@settings(deadline=None, max_examples=120)
@given(
    st.data(),
    IMPORTED,
    st.sampled_from(
        [*STATES[:12], Jurisdiction("US-WI"), Jurisdiction("US-RI"), Jurisdiction("US-TN")]
    ),
)
def test_an_ordinance_can_only_make_an_answer_stricter(
    library: Library,
    data: st.DataObject,
    own: tuple[str, tuple[Act, ...], str | None, date | None],
    place: Jurisdiction,
) -> None:
    plant, acts, county, begins = own
    book = LawBook(
        (*library.law.versions, imported("ordinance", place, PlantId(plant), acts, county, begins))
    )
    asked = library.taxonomy.subject(
        PlantId(
            data.draw(
                st.sampled_from([plant, "salvinia-minima", "trapa-natans", "typha-latifolia"])
            )
        )
    )
    question = Question(
        place,
        data.draw(st.sampled_from(ACTS)),
        date(2026, 6, 1),
        data.draw(st.sampled_from([None, CountyFips("55025")])),
    )
    before, after = find(library.law, asked, question), find(book, asked, question)
    assert OUTCOMES.index(after.outcome) <= OUTCOMES.index(before.outcome)
    assert after.coverage == before.coverage
    assert set(before.citations) <= set(after.citations)


@settings(deadline=None, max_examples=120)
@given(
    st.data(), IMPORTED, st.sampled_from([FEDERAL, Jurisdiction("US-WI"), Jurisdiction("US-WA")])
)
def test_a_rule_that_is_no_law_changes_nothing_but_what_stands_apart(
    library: Library,
    data: st.DataObject,
    own: tuple[str, tuple[Act, ...], str | None, date | None],
    place: Jurisdiction,
) -> None:
    plant, acts, county, begins = own
    book = LawBook(
        (*library.law.versions, imported("own-rule", place, PlantId(plant), acts, county, begins)),
        library.law.offices,
    )
    asked = library.taxonomy.subject(
        PlantId(data.draw(st.sampled_from([plant, "typha-x-glauca", "nymphaea-odorata"])))
    )
    state = data.draw(
        st.sampled_from([Jurisdiction("US-WI"), Jurisdiction("US-WA"), Jurisdiction("US-TN")])
    )
    movement = data.draw(st.sampled_from(["interstate", "within", "unknown"]))
    question = Question(
        state,
        data.draw(st.sampled_from(ACTS)),
        date(2026, 6, 1),
        movement=movement,  # type: ignore[arg-type]
    )
    assert replace(find(book, asked, question), own_rules=()) == find(library.law, asked, question)


@pytest.mark.parametrize("movement", ["interstate", "within", "unknown"])
def test_a_rule_of_ones_own_for_the_whole_country_is_told_in_every_state(
    library: Library, movement: str
) -> None:
    own = imported("own-rule", FEDERAL, PlantId("nymphaea-odorata"), ("sell",), None, None)
    book = LawBook((*library.law.versions, own))
    subject = library.taxonomy.subject(PlantId("nymphaea-odorata"))
    finding = find(
        book,
        subject,
        Question(Jurisdiction("US-TN"), "sell", date(2026, 6, 1), movement=movement),  # type: ignore[arg-type]
    )
    assert [(rule.list_id, rule.outcome) for rule in finding.own_rules] == [
        (ListId("own-list"), "prohibited")
    ]
    assert finding.outcome == "no-entry-found"
