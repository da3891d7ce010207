"""The finding: what the law held here says of one act with one plant in one jurisdiction on one
day.

Pure functions on typed values. The strictest entry decides; every entry that reaches the plant is
cited; what is not known is said.
"""

from collections.abc import Iterable, Mapping, Sequence
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
"""Whether the act takes the plant over a state line; federal law is on such movement alone."""


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
    """An entry of a list that reaches the plant, with all that a person needs to find and check
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
    """What a list that is not law says: a buyer's or an association's rule."""

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
        own_rules: rules that are not law, apart.
        gaps: what is not held of the law and leaves the outcome undetermined, a sentence each.
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
    gaps: tuple[str, ...] = ()

    @property
    def open_for_gaps_alone(self) -> bool:
        """Whether nothing was found against the plant, and it is undetermined only because the
        law is not held whole here.
        """
        return (
            self.outcome == "undetermined"
            and bool(self.gaps)
            and all(citation.outcome == "listed-other-acts" for citation in self.citations)
        )

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
class _Looked:
    """What the entries that may reach a plant say of it.

    Attributes:
        rulings: of entries and classes that reach it.
        left_out: why other entries do not, a sentence each.
        named_by: lists that have an entry for it, whether that reaches it or leaves it out.
    """

    rulings: list[_Ruling] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    named_by: set[ListId] = field(default_factory=set)


@dataclass(frozen=True, slots=True)
class _Held:
    """What is held of the law that a question asks about, whatever the plant.

    Attributes:
        class_rules: classes on every aquatic plant that may restrict the act.
        gaps: lists of which no version is held for the day, or no list at all, a sentence each.
        unseen: lists that may name a plant in a part that is not held, a sentence each.
        notes: what holds for any plant there.
        nothing: the finding for a plant that no list names.
    """

    jurisdictions: tuple[Jurisdiction, ...]
    class_rules: tuple[tuple[ListVersion, ListClass], ...]
    gaps: tuple[str, ...]
    unseen: Mapping[ListId, str]
    notes: tuple[str, ...]
    nothing: Finding


def find(law: LawBook, subject: Subject, question: Question) -> Finding:
    """The finding for one taxon.

    Federal law joins the state's where the act takes the plant over a state line.

    >>> trapa = PlantId("trapa-natans")
    >>> ohio = Question(Jurisdiction("US-OH"), "sell", date(2026, 6, 1))
    >>> find(LawBook(()), Subject(trapa, "Trapa natans", "species", (trapa,)), ohio).outcome
    'undetermined'
    """
    held = _held(law, question)
    places = _places_listing(law, subject.bearing)
    if not held.class_rules and places.isdisjoint(held.jurisdictions):
        return held.nothing
    return _found(law, subject, question)


@cached_by_book
def _found(law: LawBook, subject: Subject, question: Question) -> Finding:
    held = _held(law, question)
    looked = _Looked()
    for jurisdiction in held.jurisdictions:
        _look(law, subject, question, jurisdiction, looked)
    for version, list_class in held.class_rules:
        given = _circumstances(version, question)
        reach = class_reach(list_class, subject, given)
        if reach.extent != "outside":
            looked.rulings.append(_ruling(version, list_class, None, reach, question, given))
    unseen = tuple(
        sentence for list_id, sentence in held.unseen.items() if list_id not in looked.named_by
    )
    law_rulings = [ruling for ruling in looked.rulings if ruling.is_law]
    own = tuple(_own_rule(ruling) for ruling in looked.rulings if not ruling.is_law)
    if law_rulings:
        return _decided(law_rulings, held, unseen, own)
    if not looked.named_by and not own:
        return held.nothing
    nothing = _nothing_found(law, question, (*held.gaps, *unseen), held.notes)
    return replace(
        nothing,
        reasons=tuple(dict.fromkeys([*looked.left_out, *nothing.reasons])),
        own_rules=own,
    )


@cached_by_book
def _places_listing(law: LawBook, plants: tuple[PlantId, ...]) -> frozenset[Jurisdiction]:
    return law.places_listing(plants)


@cached_by_book
def _held(law: LawBook, question: Question) -> _Held:
    versions = _versions_asked(law, question)
    in_force = [version for version in versions if version.in_force(question.on)]
    gaps = tuple(_gaps(law, versions, in_force, question))
    unseen = {} if gaps else _unseen(in_force, question)
    notes = tuple(_open_definitions(in_force, question))
    return _Held(
        jurisdictions=tuple(dict.fromkeys(version.jurisdiction for version in versions)),
        class_rules=tuple(
            (version, rule)
            for version in in_force
            for rule in version.classes
            if rule.every_aquatic_plant
            and (not rule.acts_known or _circumstances(version, question).act in rule.acts)
        ),
        gaps=gaps,
        unseen=unseen,
        notes=notes,
        nothing=_nothing_found(law, question, (*gaps, *unseen.values()), notes),
    )


def _nothing_found(
    law: LawBook, question: Question, gaps: tuple[str, ...], notes: tuple[str, ...]
) -> Finding:
    """The finding for a plant that no list names."""
    in_force = [
        version
        for version in _versions_asked(law, question)
        if version.is_law and version.in_force(question.on)
    ]
    of_the_place = [
        version for version in in_force if version.jurisdiction == question.jurisdiction
    ]
    coverage = coverage_of(law, question.jurisdiction, question.on)
    complete = coverage == "complete"
    how_held = "held in full" if complete else "held in part, so an entry may be missing here"
    names = ", ".join(version.list_id for version in of_the_place)
    searched = f"No entry for the plant was found in {names} ({how_held})."
    return Finding(
        outcome="undetermined" if gaps else "no-entry-found",
        act=question.act,
        jurisdiction=question.jurisdiction,
        coverage=coverage,
        verified=not gaps
        and complete
        and all(version.how_known == "read" for version in of_the_place),
        reasons=(*(gaps or (searched,)), *notes),
        confirm_with=confirm_with(law, question.jurisdiction, question.act),
        lists_searched=tuple(version.list_id for version in in_force),
        gaps=gaps,
    )


def _decided(
    rulings: Sequence[_Ruling], held: _Held, unseen: tuple[str, ...], own: tuple[OwnRule, ...]
) -> Finding:
    ordered = sorted(
        rulings,
        key=lambda ruling: (
            OUTCOMES.index(ruling.outcome),
            ruling.citation.list_id,
            ruling.citation.class_name,
        ),
    )
    outcome = ordered[0].outcome
    deciding = [ruling for ruling in ordered if ruling.outcome == outcome]
    gaps = held.gaps
    if OUTCOMES.index(outcome) > OUTCOMES.index("undetermined"):
        # Nothing stricter was found, so what is not held decides.
        gaps = (*gaps, *unseen)
        outcome = "undetermined" if gaps else outcome
    return replace(
        held.nothing,
        outcome=outcome,
        verified=any(ruling.verified for ruling in deciding) and not gaps,
        reasons=tuple(dict.fromkeys([*(ruling.reason for ruling in ordered), *gaps, *held.notes])),
        citations=tuple(ruling.citation for ruling in ordered),
        own_rules=own,
        gaps=gaps,
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


def _decides(question: Question) -> frozenset[Jurisdiction]:
    """Whose law decides: that of the place, and federal law where a state line is crossed."""
    if question.movement == "interstate":
        return frozenset({question.jurisdiction, FEDERAL})
    return frozenset({question.jurisdiction})


def _gaps(
    law: LawBook,
    versions: Sequence[ListVersion],
    in_force: Sequence[ListVersion],
    question: Question,
) -> Iterable[str]:
    """What is missing for an answer: lists held in no version for the day asked about, or no
    list with its plants at all.
    """
    ruled = {version.list_id for version in in_force}
    missing = {
        version.list_id: version
        for version in versions
        if version.is_law
        and version.list_id not in ruled
        and version.jurisdiction in _decides(question)
    }
    for version in missing.values():
        yield (
            f"No version of {version.title} ({version.citation}) in force on "
            f"{question.on.isoformat()} is held."
        )
    if not missing and coverage_of(law, question.jurisdiction, question.on) == "none":
        yield (
            f"No list of {JURISDICTION_NAMES[question.jurisdiction]} is held with its plants, so "
            "nothing can be said of its law."
        )


def _unseen(in_force: Sequence[ListVersion], question: Question) -> dict[ListId, str]:
    """Lists that may name any plant in a part that is not held."""
    return {
        version.list_id: _part_not_held(version)
        for version in in_force
        if version.is_law
        and version.kind != "ordinance"
        and version.jurisdiction in _decides(question)
        and not version.has_open_definition
        and version.may_name_unseen(_circumstances(version, question).act)
    }


def _part_not_held(version: ListVersion) -> str:
    said = f": {version.missing.rstrip('.')}" if version.missing else ""
    if version.completeness == "none":
        return (
            f"The plants that {version.title} ({version.citation}) reaches are not held here"
            f"{said}. Whether this is one of them is not known."
        )
    return (
        f"{version.title} ({version.citation}) is not held whole here{said}. A plant that it does "
        "not name here may be on it."
    )


def _open_definitions(in_force: Sequence[ListVersion], question: Question) -> Iterable[str]:
    for version in in_force:
        for rule in version.classes:
            if (
                rule.open_definition
                and version.jurisdiction == question.jurisdiction
                and (question.act in rule.acts or not rule.acts_known)
            ):
                yield (
                    f"{version.title} ({version.citation}) goes by what a plant does and not by a "
                    f"list, so it may reach one that no list names: {rule.summary}"
                )


def _own_rule(ruling: _Ruling) -> OwnRule:
    return OwnRule(
        ruling.citation.list_id,
        ruling.citation.title,
        ruling.outcome,
        ruling.reason,
        ruling.citation,
    )


def _look(
    law: LawBook, subject: Subject, question: Question, jurisdiction: Jurisdiction, looked: _Looked
) -> None:
    """Add what the entries of one jurisdiction say of a plant."""
    parents_listed = law.listed(jurisdiction, subject.hybrid_parents, question.on)
    for filed in law.filed(jurisdiction, subject.bearing):
        version = filed.version
        if not _asked(version, question):
            continue
        given = _circumstances(version, question)
        reach = reach_of(filed, subject, given, parents_listed)
        if reach.extent != "outside":
            looked.named_by.add(version.list_id)
            looked.rulings.append(
                _ruling(version, filed.list_class, filed.entry, reach, question, given)
            )
        elif reach.reasons and version.is_law:
            looked.named_by.add(version.list_id)
            looked.left_out.append(f"{version.title}: {reach.reasons[-1]}")


def _asked(version: ListVersion, question: Question) -> bool:
    """Whether a version is in force and is on the movement in question."""
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
        and (given.act in list_class.acts or list_class.acts_known)
        and not reach.assumed
        and not doubts
        and not _later_text(version, question.on)
    )
    reasons = [sentence(version, list_class, listed, outcome, given.act), *reach.reasons]
    if list_class.duty in ("control", "eradicate", "report"):
        reasons.append(f"This class carries a duty to {list_class.duty} it.")
    if _later_text(version, question.on):
        reasons.append(f"The text held is as amended {version.amended}, after the day asked about.")
    if not verified:
        reasons.append(doubt(how_known, doubts, reach.assumed))
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
    """Federal law seen from within a state: it is on movement over the state line only."""
    if (
        version.jurisdiction != FEDERAL
        or question.jurisdiction == FEDERAL
        or question.movement == "interstate"
        or not version.is_law
    ):
        return reach
    if given.act == "transport" and question.act == "transport":
        return reach.narrowed(
            "unsettled", "Federal law reaches it if the movement crosses a state line."
        )
    if given.act == "release":
        return reach.narrowed(
            "unsettled", "Federal law reaches a release only as part of movement between states."
        )
    return reach


def _outcome(list_class: ListClass, reach: Reach, given: Circumstances) -> Outcome:
    if reach.seeds_only:
        return "listed-other-acts"
    if reach.extent == "open":
        return "undetermined"
    if given.act not in list_class.acts:
        return "listed-other-acts" if list_class.acts_known else "undetermined"
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
