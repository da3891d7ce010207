"""One label against the law: what it means, and what the lists say of it.

``status``, ``/v1/findings``, the page's look-up, each line of a stock list and each planting of a
plan take their findings from here.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from service.names import Resolution
from service.regulation.finding import Finding, Question
from service.regulation.for_name import Naming, find_for_name
from service.store.library import Library


@dataclass(frozen=True, slots=True)
class LabelAnswer:
    """What a label means, and a finding for each question in the order asked."""

    resolution: Resolution
    findings: tuple[Finding, ...]


def check_label(library: Library, label: str, questions: Iterable[Question]) -> LabelAnswer:
    """Resolve a label and find what the law says of it."""
    resolution = library.resolver.resolve(label)
    return LabelAnswer(resolution, findings_of(library, library.naming(resolution), questions))


def findings_of(
    library: Library, naming: Naming, questions: Iterable[Question]
) -> tuple[Finding, ...]:
    """A finding for each question: the strictest over all that the label may mean."""
    return tuple(find_for_name(library.law, naming, question) for question in questions)
