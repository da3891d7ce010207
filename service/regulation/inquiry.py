"""Many questions asked of many labels: what does not depend on the plant is worked out once."""

from collections import defaultdict
from collections.abc import Iterable, Iterator

from service.regulation.finding import Finding, Question
from service.regulation.for_name import Certainty, Naming, find_for_name, nothing_for
from service.regulation.law import LawBook
from service.regulation.loaded import loaded_law
from service.regulation.subject import Subject
from service.values.vocabulary import Jurisdiction


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
