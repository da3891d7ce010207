"""What is loaded of the law that a question asks about, whatever the plant: lists, gaps, notes."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from service.regulation.answers import Finding, Question
from service.regulation.coverage import confirm_with, coverage_of
from service.regulation.law import LawBook, ListClass, ListVersion, cached_by_book
from service.regulation.ruling import circumstances
from service.values.vocabulary import FEDERAL, JURISDICTION_NAMES, Jurisdiction, ListId


@dataclass(frozen=True, slots=True)
class LoadedLaw:
    """What is loaded of the law that a question asks about, whatever the plant.

    Attributes:
        class_rules: classes on every aquatic plant that may restrict the act.
        gaps: lists of which no version is loaded for the day, or no list at all, a sentence each.
        unseen: lists that may name a plant in a part that is not loaded, a sentence each.
        notes: what holds for any plant there.
        nothing: the finding for a plant that no list names.
    """

    jurisdictions: tuple[Jurisdiction, ...]
    class_rules: tuple[tuple[ListVersion, ListClass], ...]
    gaps: tuple[str, ...]
    unseen: Mapping[ListId, str]
    notes: tuple[str, ...]
    nothing: Finding


@cached_by_book(most=4_000)
def loaded_law(law: LawBook, question: Question) -> LoadedLaw:
    versions = _versions_asked(law, question)
    in_force = [version for version in versions if version.in_force(question.on)]
    gaps = tuple(_gaps(law, versions, in_force, question))
    unseen = {} if gaps else _unseen(in_force, question)
    notes = tuple(_open_definitions(in_force, question))
    return LoadedLaw(
        jurisdictions=tuple(dict.fromkeys(version.jurisdiction for version in versions)),
        class_rules=tuple(
            (version, rule)
            for version in in_force
            for rule in version.classes
            if rule.every_aquatic_plant
            and (not rule.acts_known or circumstances(version, question).act in rule.acts)
        ),
        gaps=gaps,
        unseen=unseen,
        notes=notes,
        nothing=nothing_found(law, question, (*gaps, *unseen.values()), notes),
    )


def nothing_found(
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
    how_loaded = "loaded in full" if complete else "loaded in part, so an entry may be missing here"
    names = ", ".join(version.list_id for version in of_the_place)
    searched = f"No entry for the plant was found in {names} ({how_loaded})."
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


def _versions_asked(law: LawBook, question: Question) -> list[ListVersion]:
    asked = list(law.lists_of(question.jurisdiction))
    if question.jurisdiction != FEDERAL:
        # A rule of one's own for the whole country holds in each state; federal law only where a
        # state line is crossed.
        asked += [
            version
            for version in law.lists_of(FEDERAL)
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
    """What is missing for an answer: lists loaded in no version for the day asked about, or no
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
            f"{question.on.isoformat()} is loaded."
        )
    if not missing and coverage_of(law, question.jurisdiction, question.on) == "none":
        yield (
            f"No list of {JURISDICTION_NAMES[question.jurisdiction]} is loaded with its plants, so "
            "nothing can be said of its law."
        )


def _unseen(in_force: Sequence[ListVersion], question: Question) -> dict[ListId, str]:
    """Lists that may name any plant in a part that is not loaded."""
    return {
        version.list_id: _part_not_loaded(version)
        for version in in_force
        if version.is_law
        and version.kind != "ordinance"
        and version.jurisdiction in _decides(question)
        and not version.has_open_definition
        and version.may_name_unseen(circumstances(version, question).act)
    }


def _part_not_loaded(version: ListVersion) -> str:
    """Short, for a stock list repeats it line by line; the list itself has its title and note."""
    said = f" ({version.missing.rstrip('.')})" if version.missing else ""
    if version.completeness == "none":
        return f"{version.citation}: loaded without its plants{said}, it may reach this one."
    return f"{version.citation}: not loaded in full{said}, it may name this plant."


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
