"""The finding for a label: the strictest over all that the label may mean, and no clearer than
its name is sure.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from service.regulation.coverage import confirm_with, coverage_of
from service.regulation.finding import Finding, Question, find
from service.regulation.law import LawBook, cached_by_book
from service.regulation.loaded import loaded_law
from service.regulation.subject import Subject
from service.values.kept import Kept
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


@lru_cache(maxsize=8_000)
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


@cached_by_book(most=4_000)
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


_SUBJECTS_KEPT = 4_000
_FINDINGS_KEPT = 160_000
"""Of one row of questions, with what stands for the names; some 8 bytes each."""
_WEIGHT_OF_NAMING = 40


@dataclass(frozen=True, slots=True)
class _Known:
    """What is known of a row of questions, whoever asks them. It holds no law book, so that a book
    goes with its last user.

    Attributes:
        by_place: positions of the questions that look at the lists of a place.
        for_any_plant: positions where a class is on every aquatic plant.
        nothing: the findings where no list names a plant, by how sure its name is.
        named: of a plant, the findings where the lists may say something of it, by position.
        answers: to names.
    """

    by_place: Mapping[Jurisdiction, Sequence[int]]
    for_any_plant: Sequence[int]
    nothing: dict[Certainty, tuple[Finding, ...]]
    named: Kept[Subject, Mapping[int, Finding]]
    answers: Kept[Naming, tuple[Finding, ...]]


@cached_by_book(most=16)
def _known_of(law: LawBook, questions: tuple[Question, ...]) -> _Known:
    by_place: dict[Jurisdiction, list[int]] = defaultdict(list)
    for_any_plant: list[int] = []
    for position, question in enumerate(questions):
        loaded = loaded_law(law, question)
        for jurisdiction in loaded.jurisdictions:
            by_place[jurisdiction].append(position)
        if loaded.class_rules:
            for_any_plant.append(position)
    return _Known(dict(by_place), for_any_plant, {}, Kept(_SUBJECTS_KEPT), Kept(_FINDINGS_KEPT))


class Inquiry:
    """Questions to ask of one label after another.

    Most lists name few plants, so that most answers for a label are those for any plant that no
    list names; only the others are worked out, and kept for the next who asks the same questions.

    Args:
        questions: in the order in which findings are wanted.
    """

    def __init__(self, law: LawBook, questions: Iterable[Question]) -> None:
        self.questions = tuple(questions)
        self._law = law
        self._known = _known_of(law, self.questions)
        self._weight = len(self.questions) + _WEIGHT_OF_NAMING

    def findings(self, naming: Naming) -> tuple[Finding, ...]:
        """A finding for each question: the strictest over all that the label may mean.

        >>> from datetime import date
        >>> ohio = Question(Jurisdiction("US-OH"), "sell", date(2026, 6, 1))
        >>> inquiry = Inquiry(LawBook(()), [ohio])
        >>> [finding.outcome for finding in inquiry.findings(Naming("none", ()))]
        ['undetermined']
        """
        answers = self._known.answers
        found = answers.get(naming, self._weight)
        if found is None:
            found = tuple(self._worked_out(naming))
            answers.put(naming, found, self._weight)
        return found

    def _worked_out(self, naming: Naming) -> list[Finding]:
        found = list(self._nothing_for(naming.certainty if naming.subjects else "none"))
        nothing = self._nothing_for("confirmed")
        named = [self._named(subject) for subject in naming.subjects]
        for position in set().union(*named):
            # By identity first: most of them are the same object, and comparing them takes longer.
            several = {
                id(finding): finding
                for by_position in named
                for finding in (by_position.get(position, nothing[position]),)
            }
            distinct = tuple(dict.fromkeys(several.values()))
            found[position] = _as_sure_as(distinct, naming.certainty)
        for place, _ in naming.listed:
            for position in self._known.by_place.get(place, ()):
                found[position] = find_for_name(self._law, naming, self.questions[position])
        return found

    def _nothing_for(self, certainty: Certainty) -> tuple[Finding, ...]:
        known = self._known.nothing.get(certainty)
        if known is None:
            known = self._known.nothing[certainty] = tuple(
                nothing_for(self._law, certainty, question) for question in self.questions
            )
        return known

    def _named(self, subject: Subject) -> Mapping[int, Finding]:
        known = self._known.named.get(subject)
        if known is None:
            known = {
                position: find(self._law, subject, self.questions[position])
                for position in dict.fromkeys(self._positions_of(subject))
            }
            self._known.named.put(subject, known)
        return known

    def _positions_of(self, subject: Subject) -> Iterator[int]:
        """Questions to which the lists may say something of a plant."""
        yield from self._known.for_any_plant
        for place in self._law.places_listing(subject.bearing):
            yield from self._known.by_place.get(place, ())
