"""The finding: what the law loaded here says of one act with one plant in one jurisdiction on one
day.

Pure functions on typed values. The strictest entry decides; every entry that reaches the plant is
cited; what is not known is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from service.regulation.answers import Citation, Finding, Movement, OwnRule, Question
from service.regulation.law import LawBook, ListVersion, cached_by_book
from service.regulation.loaded import LoadedLaw, loaded_law, nothing_found
from service.regulation.reach import class_reach, reach_of
from service.regulation.ruling import Ruling, circumstances, ruling_of
from service.regulation.subject import Subject
from service.values.vocabulary import OUTCOMES, Jurisdiction, ListId, PlantId

__all__ = ["Citation", "Finding", "Movement", "OwnRule", "Question", "find"]


@dataclass
class _Looked:
    """What the entries that may reach a plant say of it.

    Attributes:
        rulings: of entries and classes that reach it.
        left_out: why other entries do not, a sentence each.
        named_by: lists that have an entry for it, whether that reaches it or leaves it out.
    """

    rulings: list[Ruling] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    named_by: set[ListId] = field(default_factory=set)


def find(law: LawBook, subject: Subject, question: Question) -> Finding:
    """The finding for one taxon.

    Federal law joins the state's where the act takes the plant over a state line.

    >>> from datetime import date
    >>> from service.values.vocabulary import PlantId
    >>> trapa = PlantId("trapa-natans")
    >>> ohio = Question(Jurisdiction("US-OH"), "sell", date(2026, 6, 1))
    >>> find(LawBook(()), Subject(trapa, "Trapa natans", "species", (trapa,)), ohio).outcome
    'undetermined'
    """
    loaded = loaded_law(law, question)
    places = _places_listing(law, subject.bearing)
    if not loaded.class_rules and places.isdisjoint(loaded.jurisdictions):
        return loaded.nothing
    return _found(law, subject, question)


@cached_by_book(most=20_000)
def _found(law: LawBook, subject: Subject, question: Question) -> Finding:
    loaded = loaded_law(law, question)
    looked = _Looked()
    for jurisdiction in loaded.jurisdictions:
        _look(law, subject, question, jurisdiction, looked)
    for version, list_class in loaded.class_rules:
        given = circumstances(version, question)
        reach = class_reach(list_class, subject, given)
        if reach.extent != "outside":
            looked.rulings.append(ruling_of(version, list_class, None, reach, question, given))
    unseen = tuple(
        sentence for list_id, sentence in loaded.unseen.items() if list_id not in looked.named_by
    )
    law_rulings = [ruling for ruling in looked.rulings if ruling.is_law]
    own = tuple(_own_rule(ruling) for ruling in looked.rulings if not ruling.is_law)
    if law_rulings:
        return _decided(law, law_rulings, loaded, unseen, own)
    if not (looked.named_by or looked.left_out or own):
        return loaded.nothing
    nothing = nothing_found(law, question, (*loaded.gaps, *unseen), loaded.notes)
    return replace(
        nothing,
        reasons=tuple(dict.fromkeys([*looked.left_out, *nothing.reasons])),
        own_rules=own,
    )


@cached_by_book(most=10_000)
def _places_listing(law: LawBook, plants: tuple[PlantId, ...]) -> frozenset[Jurisdiction]:
    return law.places_listing(plants)


@cached_by_book(most=10_000)
def _shared(law: LawBook, citation: Citation) -> Citation:
    """The one object for citations that are equal, for they come in many findings."""
    return citation


def _decided(
    law: LawBook,
    rulings: Sequence[Ruling],
    loaded: LoadedLaw,
    unseen: tuple[str, ...],
    own: tuple[OwnRule, ...],
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
    gaps = loaded.gaps
    if OUTCOMES.index(outcome) > OUTCOMES.index("undetermined"):
        # Nothing stricter was found, so what is not loaded decides.
        gaps = (*gaps, *unseen)
        outcome = "undetermined" if gaps else outcome
    return replace(
        loaded.nothing,
        outcome=outcome,
        verified=any(ruling.verified for ruling in deciding) and not gaps,
        reasons=tuple(
            dict.fromkeys([*(ruling.reason for ruling in ordered), *gaps, *loaded.notes])
        ),
        citations=tuple(_shared(law, ruling.citation) for ruling in ordered),
        own_rules=own,
        gaps=gaps,
    )


def _own_rule(ruling: Ruling) -> OwnRule:
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
        given = circumstances(version, question)
        reach = reach_of(filed, subject, given, parents_listed)
        if reach.extent != "outside":
            looked.named_by.add(version.list_id)
            looked.rulings.append(
                ruling_of(version, filed.list_class, filed.entry, reach, question, given)
            )
        elif reach.reasons and version.is_law:
            if filed.entry.plant_id in subject.lineage:  # of a hybrid it may name a parent alone
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
