"""One label against the law: what it means, and what the lists say of it.

``status``, ``/v1/findings``, the page's look-up, each line of a stock list and each planting of a
plan take their findings from here.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from service.names import Resolution, together
from service.regulation.finding import Finding, Question
from service.regulation.for_name import Naming, find_for_name
from service.store.deadline import check as check_deadline
from service.store.library import Library


@dataclass(frozen=True, slots=True)
class LineName:
    """What a line of a list calls its plant.

    Attributes:
        label: the botanical name, or a label of any kind.
        common: the common name from a column of its own.
    """

    label: str
    common: str = ""

    @property
    def shown(self) -> str:
        """The one to show."""
        return self.label or self.common


@dataclass(frozen=True, slots=True)
class LabelAnswer:
    """What a label means, and a finding for each question in the order asked."""

    resolution: Resolution
    findings: tuple[Finding, ...]


def check_label(library: Library, label: str, questions: Iterable[Question]) -> LabelAnswer:
    """Resolve a label and find what the law says of it.

    The candidates take in what the lists of the places asked about print under the label's name.
    """
    asked = tuple(questions)
    resolution = library.resolver.resolve(label)
    naming = library.naming(resolution)
    findings = findings_of(library, naming, asked)
    places = {question.jurisdiction for question in asked}
    return LabelAnswer(library.with_listed(resolution, naming, places), findings)


def findings_of(
    library: Library, naming: Naming, questions: Iterable[Question]
) -> tuple[Finding, ...]:
    """A finding for each question: the strictest over all that the label may mean."""
    return tuple(find_for_name(library.law, naming, question) for question in questions)


def resolve_lines(library: Library, names: Sequence[LineName]) -> Iterator[Resolution]:
    """What each line means, in order; two names of one line are read together."""
    resolver = library.resolver
    pairs: dict[LineName, Resolution] = {}
    firsts = resolver.resolve_all([name.shown for name in names], between=check_deadline)
    for name, first in zip(names, firsts, strict=True):
        if not name.label or not name.common:
            yield first
            continue
        known = pairs.get(name)
        if known is None:
            known = pairs[name] = together(first, resolver.resolve(name.common))
        yield known
