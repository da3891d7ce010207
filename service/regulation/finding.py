"""The finding: what the law held here says of one act with one plant in one jurisdiction on one
day.

Pure functions on typed values. The strictest entry decides; every entry that bears on the plant is
cited; what is not known is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

from service.regulation.cache import cached_by_book
from service.regulation.holdings import confirm_with, coverage_of
from service.regulation.law import Duty, Entry, LawBook, ListClass, ListVersion, Permit
from service.regulation.reach import Circumstances, Reach, class_reach, reach_of
from service.regulation.subject import Subject
from service.regulation.wording import doubt, sentence
from service.values.vocabulary import (
    FEDERAL,
    JURISDICTION_NAMES,
    OUTCOMES,
    Act,
    CountyFips,
    Coverage,
    HowKnown,
    Jurisdiction,
    ListId,
    Outcome,
    PlantId,
)

Movement = Literal["interstate", "within", "unknown"]
"""Whether the act takes the plant over a state line; federal law on movement bears on that
alone.
"""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, beside the plant."""

    jurisdiction: Jurisdiction
    act: Act
    on: date
    county: CountyFips | None = None
    movement: Movement = "unknown"


@dataclass(frozen=True, slots=True)
class Citation:
    """An entry of a list that bears on the plant, with all that a person needs to find and check
    it.
    """

    list_id: ListId
    jurisdiction: Jurisdiction
    title: str
    citation: str
    authority: str
    class_name: str
    name_as_listed: str
    exceptions: str
    area: str
    condition: str
    acts: tuple[Act, ...]
    duty: Duty
    permit: Permit
    effective_from: date | None
    url: str
    how_known: HowKnown
    read_copy_date: str
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class OwnRule:
    """What a list that is no law says: a buyer's or an association's rule."""

    list_id: ListId
    title: str
    outcome: Outcome
    reason: str
    citation: Citation


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found for one act in one jurisdiction.

    Attributes:
        coverage: how completely the jurisdiction's lists are held.
        verified: every fact that the outcome rests on was read in the text.
        lists_searched: lists that were in force and looked through.
        own_rules: rules that are no law, apart.
    """

    outcome: Outcome
    act: Act
    jurisdiction: Jurisdiction
    coverage: Coverage
    verified: bool
    reasons: tuple[str, ...]
    confirm_with: str
    citations: tuple[Citation, ...] = ()
    lists_searched: tuple[ListId, ...] = ()
    own_rules: tuple[OwnRule, ...] = ()

    def __hash__(self) -> int:
        # Findings are shared by many lines and looked up often; the long texts need not be hashed
        # each time.
        return hash((self.outcome, self.act, self.jurisdiction, self.verified, len(self.citations)))


@dataclass(frozen=True, slots=True)
class _Ruling:
    """What one entry, or one class, says."""

    outcome: Outcome
    verified: bool
    reason: str
    citation: Citation
    is_law: bool


@dataclass
class _Tally:
    rulings: list[_Ruling] = field(default_factory=list)
    set_aside: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Docket:
    """What a question needs of the law, whatever the plant."""

    jurisdictions: tuple[Jurisdiction, ...]
    sweeping: tuple[tuple[ListVersion, ListClass], ...]
    gaps: tuple[str, ...]
    nothing: Finding


def find(law: LawBook, subject: Subject, question: Question) -> Finding:
    """The finding for one taxon.

    Federal law joins the state's where the act takes the plant over a state line.
    """
    docket = _docket(law, question)
    places = _places_listing(law, subject.bearing)
    if not docket.sweeping and places.isdisjoint(docket.jurisdictions):
        return docket.nothing
    return _found(law, subject, question)


@cached_by_book
def _found(law: LawBook, subject: Subject, question: Question) -> Finding:
    docket = _docket(law, question)
    tally = _Tally()
    for jurisdiction in docket.jurisdictions:
        _rule(law, subject, question, jurisdiction, tally)
    for version, list_class in docket.sweeping:
        given = _circumstances(version, question)
        tally.rulings.append(
            _ruling(version, list_class, None, class_reach(list_class, given), question, given)
        )
    law_rulings = [each for each in tally.rulings if each.is_law]
    own = tuple(_own_rule(each) for each in tally.rulings if not each.is_law)
    if law_rulings:
        return _decided(law_rulings, docket, own)
    if not tally.set_aside and not own:
        return docket.nothing
    return replace(
        docket.nothing,
        reasons=tuple(dict.fromkeys([*tally.set_aside, *docket.nothing.reasons])),
        own_rules=own,
    )


@cached_by_book
def _places_listing(law: LawBook, plants: tuple[PlantId, ...]) -> frozenset[Jurisdiction]:
    return law.places_listing(plants)


@cached_by_book
def _docket(law: LawBook, question: Question) -> _Docket:
    versions = _versions_asked(law, question)
    in_force = [version for version in versions if version.in_force(question.on)]
    coverage = coverage_of(law, question.jurisdiction, question.on)
    gaps = tuple(_gaps(versions, in_force, question, coverage))
    return _Docket(
        jurisdictions=tuple(dict.fromkeys(version.jurisdiction for version in versions)),
        sweeping=tuple(
            (version, each)
            for version in in_force
            for each in version.classes
            if each.every_aquatic_plant
        ),
        gaps=gaps,
        nothing=_nothing_found(
            law, question, coverage, gaps, [version for version in in_force if version.is_law]
        ),
    )


def _nothing_found(
    law: LawBook,
    question: Question,
    coverage: Coverage,
    gaps: tuple[str, ...],
    in_force: Sequence[ListVersion],
) -> Finding:
    """The finding for a plant that no list bears on."""
    of_the_place = [
        version for version in in_force if version.jurisdiction == question.jurisdiction
    ]
    complete = coverage == "complete"
    held = "held in full" if complete else "held in part, so an entry may be missing here"
    names = ", ".join(version.list_id for version in of_the_place)
    return Finding(
        outcome="undetermined" if gaps else "no-entry-found",
        act=question.act,
        jurisdiction=question.jurisdiction,
        coverage=coverage,
        verified=not gaps
        and complete
        and all(version.how_known == "read" for version in of_the_place),
        reasons=gaps or (f"No entry for the plant was found in {names} ({held}).",),
        confirm_with=confirm_with(law, question.jurisdiction),
        lists_searched=tuple(version.list_id for version in in_force),
    )


def _decided(rulings: Sequence[_Ruling], docket: _Docket, own: tuple[OwnRule, ...]) -> Finding:
    ordered = sorted(
        rulings,
        key=lambda each: (
            OUTCOMES.index(each.outcome),
            each.citation.list_id,
            each.citation.class_name,
        ),
    )
    outcome = ordered[0].outcome
    deciding = [each for each in ordered if each.outcome == outcome]
    if docket.gaps and OUTCOMES.index(outcome) > OUTCOMES.index("undetermined"):
        outcome = "undetermined"
    return replace(
        docket.nothing,
        outcome=outcome,
        verified=any(each.verified for each in deciding) and not docket.gaps,
        reasons=tuple(dict.fromkeys([*(each.reason for each in ordered), *docket.gaps])),
        citations=tuple(each.citation for each in ordered),
        own_rules=own,
    )


def _versions_asked(law: LawBook, question: Question) -> list[ListVersion]:
    asked = list(law.held(question.jurisdiction))
    if question.jurisdiction != FEDERAL:
        # A rule of one's own for the whole country holds in each state; federal law only where a
        # state line is crossed.
        asked += [
            version
            for version in law.held(FEDERAL)
            if question.movement != "within" or not version.is_law
        ]
    return asked


def _gaps(
    versions: Sequence[ListVersion],
    in_force: Sequence[ListVersion],
    question: Question,
    coverage: Coverage,
) -> list[str]:
    """What is missing for an answer: lists held in no version for the day asked about, or no
    list with its plants at all.
    """
    ruled = {version.list_id for version in in_force}
    decides = (
        {question.jurisdiction, FEDERAL}
        if question.movement == "interstate"
        else {question.jurisdiction}
    )
    missing = {
        version.list_id: version
        for version in versions
        if version.list_id not in ruled and version.jurisdiction in decides
    }
    gaps = [
        f"No version of {version.title} ({version.citation}) in force on {question.on.isoformat()} is held."
        for version in missing.values()
        if version.is_law
    ]
    if coverage == "none" and not gaps:
        gaps.append(
            f"No list of {JURISDICTION_NAMES[question.jurisdiction]} is held with its plants, so nothing can be said of its law."
        )
    return gaps


def _own_rule(ruling: _Ruling) -> OwnRule:
    return OwnRule(
        ruling.citation.list_id,
        ruling.citation.title,
        ruling.outcome,
        ruling.reason,
        ruling.citation,
    )


def _rule(
    law: LawBook, subject: Subject, question: Question, jurisdiction: Jurisdiction, tally: _Tally
) -> None:
    parents_listed = law.listed(jurisdiction, subject.hybrid_parents, question.on)
    for filed in law.filed(jurisdiction, subject.bearing):
        if not _asked(filed.version, question):
            continue
        given = _circumstances(filed.version, question)
        reach = reach_of(filed, subject, given, parents_listed)
        if reach.extent != "outside":
            tally.rulings.append(
                _ruling(filed.version, filed.list_class, filed.entry, reach, question, given)
            )
        elif filed.version.is_law:
            tally.set_aside += [f"{filed.version.title}: {reason}" for reason in reach.reasons[-1:]]


def _asked(version: ListVersion, question: Question) -> bool:
    """Whether a version is in force and bears on the movement in question."""
    abroad = (
        version.jurisdiction != question.jurisdiction
        and question.movement == "within"
        and version.is_law
    )
    return version.in_force(question.on) and not abroad


def _circumstances(version: ListVersion, question: Question) -> Circumstances:
    """The question as a list looks at it.

    Federal law knows movement, whichever way the state line is crossed.
    """
    act = question.act
    if (
        version.jurisdiction == FEDERAL
        and version.is_law
        and question.jurisdiction != FEDERAL
        and act == "export"
    ):
        act = "transport"
    return Circumstances(act, question.on, question.county)


def _ruling(
    version: ListVersion,
    list_class: ListClass,
    entry: Entry | None,
    reach: Reach,
    question: Question,
    given: Circumstances,
) -> _Ruling:
    reach = _limited_to_movement(version, question, given, reach)
    outcome = _outcome(list_class, reach, given)
    listed = (
        (entry.name_as_listed or entry.common_as_listed or entry.accepted_name)
        if entry
        else "every aquatic plant"
    )
    doubts = [term.words for term in entry.terms if term.kind == "doubt"] if entry else []
    how_known = _weakest(version, list_class, entry)
    verified = (
        how_known == "read"
        and bool(list_class.acts)
        and not doubts
        and not _later_text(version, question.on)
    )
    reasons = [sentence(version, list_class, listed, outcome, given.act), *reach.reasons]
    if list_class.duty in ("control", "eradicate", "report"):
        reasons.append(f"Duty of this class: {list_class.duty}.")
    if _later_text(version, question.on):
        reasons.append(f"The text held is as amended {version.amended}, after the day asked about.")
    if not verified:
        reasons.append(doubt(how_known, doubts))
    citation = Citation(
        list_id=version.list_id,
        jurisdiction=version.jurisdiction,
        title=version.title,
        citation=version.citation,
        authority=version.authority,
        class_name=list_class.name,
        name_as_listed=listed,
        exceptions=entry.exceptions if entry else "",
        area=entry.area if entry else "",
        condition=entry.condition if entry else "; ".join(term.words for term in list_class.terms),
        acts=list_class.acts,
        duty=list_class.duty,
        permit=list_class.permit,
        effective_from=version.effective_from,
        url=(entry.read_url if entry and entry.read_url else version.url),
        how_known=how_known,
        read_copy_date=version.read_copy_date,
        outcome=outcome,
    )
    return _Ruling(outcome, verified, " ".join(reasons), citation, version.is_law)


def _limited_to_movement(
    version: ListVersion, question: Question, given: Circumstances, reach: Reach
) -> Reach:
    """Federal law seen from within a state: it bears on movement over the state line only."""
    if (
        version.jurisdiction != FEDERAL
        or question.jurisdiction == FEDERAL
        or question.movement == "interstate"
        or not version.is_law
    ):
        return reach
    if given.act == "transport" and question.act == "transport":
        return reach.narrowed(
            "unsettled", "Federal law bears on it if the movement crosses a state line."
        )
    if given.act == "release":
        return reach.narrowed(
            "unsettled", "Federal law reaches a release only as part of movement between states."
        )
    return reach


def _outcome(list_class: ListClass, reach: Reach, given: Circumstances) -> Outcome:
    if reach.seeds_only:
        return "listed-other-acts"
    if reach.extent == "open" or not list_class.acts:
        return "undetermined"
    if given.act not in list_class.acts:
        return "listed-other-acts"
    if reach.extent == "unsettled":
        return "conditional"
    if list_class.permit == "yes" and not list_class.permit_for:
        return "permit-required"
    return "prohibited"


def _weakest(version: ListVersion, list_class: ListClass, entry: Entry | None) -> HowKnown:
    """The least of what is known of list, class and entry.

    A list read in part still has entries that were read.
    """
    known: list[HowKnown] = [list_class.how_known]
    if entry is not None:
        known.append(entry.how_known)
    if version.how_known == "memory" or entry is None:
        known.append(version.how_known)
    for weaker in ("memory", "partly-read"):
        if weaker in known:
            return "memory" if weaker == "memory" else "partly-read"
    return known[-1]


def _later_text(version: ListVersion, on: date) -> bool:
    return version.amended is not None and on < version.amended
