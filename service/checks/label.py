"""One label against the law: what it means, and what the lists say of it.

``status``, ``/v1/findings``, the page's look-up, each line of a stock list and each planting of a
plan take their findings from here.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from service.names import Candidate, Resolution
from service.regulation.finding import Finding, Question
from service.regulation.for_name import Naming, find_for_name
from service.store.deadline import check as check_deadline
from service.store.library import Library
from service.values.vocabulary import Match, PlantId

_GUESSES: frozenset[Match] = frozenset({"spelling", "genus", "none"})


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
    findings = findings_of(library, library.naming(resolution), asked)
    places = {question.jurisdiction for question in asked}
    return LabelAnswer(library.with_listed(resolution, places), findings)


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


def together(first: Resolution, second: Resolution) -> Resolution:
    """Two names of one plant, the botanical name or label first, read together.

    Names that agree confirm each other. Names that mean different plants leave the line open, with
    all that it may be. A name that means nothing here, or is only near in spelling, adds nothing.
    """
    if not first.candidates:
        return replace(second, label=first.label)
    if not second.candidates:
        return first
    shared = _shared(first.candidates, second.candidates)
    if shared:
        return _agreed(first, second, shared)
    if second.match == "spelling":
        return first
    if first.match in ("spelling", "none"):
        first = replace(first, match=second.match)
    several = (*first.candidates, *second.candidates)
    return replace(
        first,
        candidates=several,
        confirmed=False,
        genus_only=False,
        to_confirm=(
            f"Ask the grower which plant it is: {first.label!r} means {_named(first)} and"
            f" {second.label!r} means {_named(second)}."
        ),
    )


def _agreed(first: Resolution, second: Resolution, shared: Sequence[Candidate]) -> Resolution:
    """The first name, made sure by the second where that leaves one plant."""
    in_doubt = first.parsed.several or any(name.qualifier for name in first.parsed.names)
    guesses = (first.match in _GUESSES) + (second.match in _GUESSES)
    if first.confirmed or in_doubt or guesses == 2 or second.match == "spelling":
        return first
    sure = len(shared) == 1 and (second.confirmed or not guesses)
    return replace(
        first,
        match=second.match if first.match in _GUESSES else first.match,
        candidates=tuple(shared),
        confirmed=sure,
        genus_only=all(candidate.rank == "genus" for candidate in shared),
        to_confirm="" if sure else first.to_confirm,
    )


def _shared(first: Sequence[Candidate], second: Sequence[Candidate]) -> list[Candidate]:
    """Taxa that both names may mean. A genus and a species of it share the species; two taxa of
    one species share that of the first name.
    """
    shared: dict[PlantId, Candidate] = {}
    for one in first:
        for other in second:
            if one.rank == "genus" and other.genus == one.accepted_name:
                shared.setdefault(other.plant_id, other)
            elif one.accepted_name.split()[:2] == other.accepted_name.split()[:2] or (
                other.rank == "genus" and one.genus == other.accepted_name
            ):
                shared.setdefault(one.plant_id, one)
    return list(shared.values())


def _named(resolution: Resolution) -> str:
    names = list(dict.fromkeys(each.accepted_name for each in resolution.candidates))
    return f"{' or '.join(names[:3])}{f' or {len(names) - 3} more' if len(names) > 3 else ''}"
