"""The finding for a label: the strictest over all that the label may mean, and no clearer than
its name is sure.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from service.regulation.coverage import confirm_with, coverage_of
from service.regulation.finding import Finding, Question, find
from service.regulation.law import LawBook, cached_by_book
from service.regulation.loaded import loaded_law
from service.regulation.subject import Subject
from service.values.vocabulary import FEDERAL, OUTCOMES, Jurisdiction, Outcome

Certainty = Literal["confirmed", "shared", "spelling", "genus", "outside", "none"]
"""How sure the name is: one taxon by an exact name; several taxa that share it; near in
spelling; a genus alone; a plant that the catalogue does not hold; nothing.
"""


@dataclass(frozen=True, slots=True)
class Naming:
    """What a label may mean: every taxon, best first. None is a label that nobody knows.

    Attributes:
        listed: further taxa, by jurisdiction, that a list of that place prints under the label's
            name.
    """

    certainty: Certainty
    subjects: tuple[Subject, ...]
    listed: tuple[tuple[Jurisdiction, tuple[Subject, ...]], ...] = ()

    def at(self, question: Question) -> "Naming":
        """What the label may mean where the question is asked, the lists of the place heeded."""
        places = {question.jurisdiction}
        if question.movement == "interstate":
            places.add(FEDERAL)
        further = [taxon for place, taxa in self.listed if place in places for taxon in taxa]
        if not further:
            return self
        certainty = "shared" if self.certainty in ("confirmed", "none") else self.certainty
        return Naming(certainty, tuple(dict.fromkeys((*self.subjects, *further))))


def find_for_name(law: LawBook, naming: Naming, question: Question) -> Finding:
    """The strictest finding over the taxa of a label.

    A name that a list of the place prints brings the taxon of its entry in. A name that is only
    near in spelling, that names a genus alone or a plant that the catalogue lacks, never yields
    ``no-entry-found`` or ``listed-other-acts``: what was found belongs to a guess.

    >>> from datetime import date
    >>> from service.values.vocabulary import Jurisdiction
    >>> ohio = Question(Jurisdiction("US-OH"), "sell", date(2026, 6, 1))
    >>> find_for_name(LawBook(()), Naming("none", ()), ohio).outcome
    'undetermined'
    """
    naming = naming.at(question)
    if not naming.subjects:
        return _unnamed(law, question)
    findings = tuple(dict.fromkeys(find(law, subject, question) for subject in naming.subjects))
    return _as_sure_as(findings, naming.certainty)


def nothing_for(law: LawBook, certainty: Certainty, question: Question) -> Finding:
    """The finding where no list names any plant that the label may mean."""
    if certainty == "none":
        return _unnamed(law, question)
    return _as_sure_as((loaded_law(law, question).nothing,), certainty)


def _as_sure_as(findings: tuple[Finding, ...], certainty: Certainty) -> Finding:
    return findings[0] if certainty == "confirmed" else _joined(findings, certainty)


def law_reasons(finding: Finding) -> tuple[str, ...]:
    """What the lists say, without the first sentence where that is on the name; never empty."""
    first, *others = finding.reasons
    return tuple(others) if others and first in _DOUBT.values() else finding.reasons


@lru_cache(maxsize=20_000)
def _joined(findings: tuple[Finding, ...], certainty: Certainty) -> Finding:
    strict = min(findings, key=lambda finding: OUTCOMES.index(finding.outcome))
    outcome: Outcome = strict.outcome
    if certainty in ("spelling", "genus", "outside") and outcome in (
        "no-entry-found",
        "listed-other-acts",
    ):
        outcome = "undetermined"
    others = [finding for finding in findings if finding.citations and finding is not strict]
    return replace(
        strict,
        outcome=outcome,
        verified=False,
        reasons=tuple(
            dict.fromkeys(
                (
                    _DOUBT[certainty],
                    *strict.reasons,
                    *(reason for finding in others for reason in finding.reasons),
                )
            )
        ),
        citations=tuple(
            dict.fromkeys(
                (
                    *strict.citations,
                    *(citation for finding in others for citation in finding.citations),
                )
            )
        ),
        own_rules=tuple(dict.fromkeys(rule for finding in findings for rule in finding.own_rules)),
        gaps=() if certainty in ("spelling", "genus", "outside") else strict.gaps,
    )


_DOUBT: dict[Certainty, str] = {
    "shared": (
        "The label may mean more than one plant, or is not sure to mean this one; the strictest "
        "answer is given."
    ),
    "spelling": "The name was matched by its spelling alone.",
    "genus": (
        "The label names a genus, so it may be any plant of it; the strictest answer is given."
    ),
    "outside": (
        "The plant is not in the catalogue; its genus answers where that is listed as a whole, and "
        "what lists say of other species of the genus does not decide it."
    ),
}


@cached_by_book
def _unnamed(law: LawBook, question: Question) -> Finding:
    return Finding(
        outcome="undetermined",
        act=question.act,
        jurisdiction=question.jurisdiction,
        coverage=coverage_of(law, question.jurisdiction, question.on),
        verified=False,
        reasons=("No plant is known by the label.",),
        confirm_with=confirm_with(law, question.jurisdiction, question.act),
    )


class Inquiry:
    """Questions to ask of one label after another.

    Most lists name few plants, so that most answers for a label are those for any plant that no
    list names; only the others are worked out.

    Args:
        questions: in the order in which findings are wanted.
    """

    def __init__(self, law: LawBook, questions: Iterable[Question]) -> None:
        self.questions = tuple(questions)
        self._law = law
        self._by_place: dict[Jurisdiction, list[int]] = defaultdict(list)
        self._for_any_plant: set[int] = set()
        for position, question in enumerate(self.questions):
            loaded = loaded_law(law, question)
            for jurisdiction in loaded.jurisdictions:
                self._by_place[jurisdiction].append(position)
            if loaded.class_rules:
                self._for_any_plant.add(position)
        self._nothing: dict[Certainty, tuple[Finding, ...]] = {}
        self._naming: dict[Subject, frozenset[int]] = {}

    def findings(self, naming: Naming) -> tuple[Finding, ...]:
        """A finding for each question: the strictest over all that the label may mean.

        >>> from datetime import date
        >>> ohio = Question(Jurisdiction("US-OH"), "sell", date(2026, 6, 1))
        >>> inquiry = Inquiry(LawBook(()), [ohio])
        >>> [finding.outcome for finding in inquiry.findings(Naming("none", ()))]
        ['undetermined']
        """
        found = list(self._nothing_for(naming.certainty if naming.subjects else "none"))
        for position in self._positions(naming):
            found[position] = find_for_name(self._law, naming, self.questions[position])
        return tuple(found)

    def _nothing_for(self, certainty: Certainty) -> tuple[Finding, ...]:
        known = self._nothing.get(certainty)
        if known is None:
            known = self._nothing[certainty] = tuple(
                nothing_for(self._law, certainty, question) for question in self.questions
            )
        return known

    def _positions(self, naming: Naming) -> Iterable[int]:
        """Questions to which the lists may say something of these plants."""
        positions: set[int] = set()
        for subject in naming.subjects:
            if subject not in self._naming:
                self._naming[subject] = frozenset(self._positions_of(subject))
            positions |= self._naming[subject]
        for place, _ in naming.listed:
            positions.update(self._by_place.get(place, ()))
        return positions

    def _positions_of(self, subject: Subject) -> Iterator[int]:
        yield from self._for_any_plant
        for place in self._law.places_listing(subject.bearing):
            yield from self._by_place.get(place, ())
