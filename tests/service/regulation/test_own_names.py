"""Every name that a list prints, asked in its own state, finds the restriction of its entry.

The one who reads the list and types what it says must never be told that nothing was found.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

import pytest

from service.regulation.finding import Question
from service.regulation.for_name import find_for_name
from service.regulation.law import Entry, ListClass, ListVersion
from service.store.library import Library
from service.values.vocabulary import FEDERAL, ListId

Kind = Literal["latin", "common", "part"]

ON = date(2029, 1, 2)
"""After the last day on which an entry of the reference begins."""
LEAST_LATIN, LEAST_COMMON = 0.995, 0.97
LEFT_OUT: dict[tuple[ListId, str], str] = {}
"""Names that do not find their entry, by list, each with the reason."""


@dataclass(frozen=True)
class Printed:
    """A name as a list prints it, with its entry."""

    kind: Kind
    name: str
    version: ListVersion
    list_class: ListClass
    entry: Entry


def printed(library: Library) -> Iterable[Printed]:
    """All names of all lists; of a common name that is several, each of two words or more too."""
    for version in library.law.versions:
        classes = {rule.name: rule for rule in version.classes}
        for entry in version.entries:
            rule = classes[entry.class_name]
            if entry.name_as_listed:
                yield Printed("latin", entry.name_as_listed, version, rule, entry)
            if entry.common_as_listed:
                yield Printed("common", entry.common_as_listed, version, rule, entry)
            parts = re.split(r",|;| or ", entry.common_as_listed)
            for part in parts if len(parts) > 1 else ():
                if " " in part.strip():
                    yield Printed("part", part.strip(), version, rule, entry)


def finds_its_entry(library: Library, name: Printed) -> bool:
    version, rule = name.version, name.list_class
    question = Question(
        version.jurisdiction,
        (rule.acts or ("sell",))[0],
        max(ON, version.effective_from or ON),
        movement="interstate" if version.jurisdiction == FEDERAL else "within",
    )
    naming = library.naming(library.resolver.resolve(name.name))
    finding = find_for_name(library.law, naming, question)
    of_entry = [
        citation.outcome
        for citation in finding.citations
        if (citation.list_id, citation.class_name) == (version.list_id, rule.name)
    ]
    seeds = any(term.kind == "seeds-only" for term in name.entry.terms)
    if not rule.acts or seeds:
        return bool(of_entry) and finding.outcome != "no-entry-found"
    return any(
        outcome in ("prohibited", "permit-required", "conditional") for outcome in of_entry
    ) and finding.outcome in ("prohibited", "permit-required", "conditional")


@pytest.mark.parametrize(
    ("kind", "least"), [("latin", LEAST_LATIN), ("common", LEAST_COMMON), ("part", LEAST_COMMON)]
)
def test_a_name_that_a_list_prints_finds_its_restriction_in_its_own_state(
    library: Library, kind: Kind, least: float
) -> None:
    names = [name for name in printed(library) if name.kind == kind]
    lost = {
        (name.version.list_id, name.name) for name in names if not finds_its_entry(library, name)
    }
    assert len(names) > (100 if kind == "part" else 1_000)
    assert lost == set(LEFT_OUT) & {(name.version.list_id, name.name) for name in names}
    assert 1 - len(lost) / len(names) >= least
