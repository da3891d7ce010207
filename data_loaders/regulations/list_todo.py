"""What to verify next: where a reading in the text would decide most of what people ask."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from service.regulation.law import Entry, ListVersion
from service.regulation.subject import Subject
from service.store.library import Library
from service.values.vocabulary import Jurisdiction, ListId, PlantId

TodoKind = Literal["entries-by-memory", "acts-not-established", "list-in-part", "old-reading"]

STOCK_LINE_WEIGHT = 3.0
"""A line that somebody stocks, against a plant of the catalogue. Common practice, no source."""
MISSING_ENTRY_WEIGHT = 0.1
"""Chance that a list loaded in part names a plant of which no entry is loaded.

Common practice, no source.
"""
YEARLY_CHANGE = 0.05
"""Chance that an entry changes in a year. Common practice, no source."""
UNDATED_YEARS = 5.0
"""Age taken for a copy without a date. Common practice, no source."""

Reached = Mapping[PlantId, tuple[frozenset[PlantId], frozenset[int]]]
"""Plant of an entry -> catalogue plants and stock lines that it reaches."""


@dataclass(frozen=True, slots=True)
class TodoItem:
    """A piece of reading to do.

    Attributes:
        entries: names as listed that it is about; empty for the list as a whole.
        catalogue_plants, stock_lines: how many it decides.
        weight: expected number of answers that the reading would decide, stock lines counted
            ``STOCK_LINE_WEIGHT`` times.
        say: what to do, for a person.
        url: of the text.
    """

    kind: TodoKind
    list_id: ListId
    jurisdiction: Jurisdiction
    title: str
    entries: tuple[str, ...]
    catalogue_plants: int
    stock_lines: int
    weight: float
    say: str
    url: str

    @property
    def fetchable(self) -> bool:
        """Whether the text has an address, so that ``reedgate lists refresh`` can begin."""
        return self.url.startswith(("http://", "https://"))


def todo(library: Library, stock_labels: Sequence[str], on: date) -> tuple[TodoItem, ...]:
    """What to verify next of the law in force: lists whose address can be fetched, then the
    others, the weightiest first.

    Args:
        stock_labels: of a stock that is sold or planted, one a line.
    """
    reached = _reached(library, stock_labels)
    catalogued = frozenset(
        plant.plant_id
        for plant in library.plants.values()
        if plant.catalogued and plant.rank not in ("genus", "family")
    )
    in_force = [
        version for version in library.law.versions if version.is_law and version.in_force(on)
    ]
    entries: dict[Jurisdiction, list[Entry]] = defaultdict(list)
    for version in in_force:
        entries[version.jurisdiction] += version.entries
    unlisted: dict[Jurisdiction, tuple[int, int]] = {}
    for jurisdiction in {version.jurisdiction for version in in_force}:
        plants, lines = _decides(entries[jurisdiction], reached)
        unlisted[jurisdiction] = (len(catalogued - plants), len(stock_labels) - len(lines))
    items = [
        item
        for version in in_force
        for item in _of_version(version, reached, unlisted[version.jurisdiction], on)
    ]
    return tuple(
        sorted(
            (item for item in items if item.weight > 0),
            key=lambda item: (not item.fetchable, -item.weight, item.list_id, item.kind),
        )
    )


def _reached(library: Library, stock_labels: Sequence[str]) -> Reached:
    plants: dict[PlantId, set[PlantId]] = defaultdict(set)
    lines: dict[PlantId, set[int]] = defaultdict(set)
    for plant in library.plants.values():
        if plant.catalogued and plant.rank not in ("genus", "family"):
            for entry_plant in _asked_of(library.taxonomy.subject(plant.plant_id)):
                plants[entry_plant].add(plant.plant_id)
    for line, resolution in enumerate(library.resolver.resolve_all(list(stock_labels))):
        for subject in library.naming(resolution).subjects:
            for entry_plant in _asked_of(subject):
                lines[entry_plant].add(line)
    return {
        plant: (frozenset(plants[plant]), frozenset(lines[plant])) for plant in {*plants, *lines}
    }


def _asked_of(subject: Subject) -> Iterable[PlantId]:
    return (*subject.lineage, *subject.hybrid_parents, *subject.below)


def _decides(
    entries: Iterable[Entry], reached: Reached
) -> tuple[frozenset[PlantId], frozenset[int]]:
    plants: set[PlantId] = set()
    lines: set[int] = set()
    for entry in entries:
        entry_plants, entry_lines = reached.get(entry.plant_id, (frozenset(), frozenset()))
        plants |= entry_plants
        lines |= entry_lines
    return frozenset(plants), frozenset(lines)


def _of_version(
    version: ListVersion, reached: Reached, unlisted: tuple[int, int], on: date
) -> Iterable[TodoItem]:
    where = version.url or version.read_url
    unread = tuple(entry for entry in version.entries if entry.how_known != "read")
    if unread:
        plants, lines = _decides(unread, reached)
        say = (
            f"Read these {len(unread)} entries in the text of {version.citation}, and mark each as "
            "read."
        )
        yield _item(
            "entries-by-memory", version, _names(unread), len(plants), len(lines), 1.0, say, where
        )
    open_classes = {rule.name for rule in version.classes if not rule.acts_known}
    without_acts = tuple(entry for entry in version.entries if entry.class_name in open_classes)
    if without_acts:
        plants, lines = _decides(without_acts, reached)
        say = (
            "Find out which acts are restricted, and whether others, for "
            f"{', '.join(sorted(open_classes))}."
        )
        yield _item("acts-not-established", version, (), len(plants), len(lines), 1.0, say, where)
    if version.completeness in ("truncated", "none"):
        missing = version.missing or version.note or "the file does not say which part is here"
        say = f"Read the whole list and enter what is missing: {missing.rstrip('.')}."
        yield _item("list-in-part", version, (), *unlisted, MISSING_ENTRY_WEIGHT, say, where)
    years = _years_old(version.read_copy_date, on)
    read = tuple(entry for entry in version.entries if entry.how_known == "read")
    if read:
        plants, lines = _decides(read, reached)
        copy = f"of {version.read_copy_date}" if version.read_copy_date else "without a date"
        say = f"Hold the list against a current text; the copy read was one {copy}."
        yield _item(
            "old-reading",
            version,
            (),
            len(plants),
            len(lines),
            min(1.0, YEARLY_CHANGE * years),
            say,
            where,
        )


def _item(
    kind: TodoKind,
    version: ListVersion,
    entries: tuple[str, ...],
    plants: int,
    lines: int,
    share: float,
    say: str,
    url: str,
) -> TodoItem:
    weight = round(share * (plants + STOCK_LINE_WEIGHT * lines), 3)
    return TodoItem(
        kind,
        version.list_id,
        version.jurisdiction,
        version.title,
        entries,
        plants,
        lines,
        weight,
        say,
        url,
    )


def _names(entries: Iterable[Entry]) -> tuple[str, ...]:
    return tuple(
        entry.name_as_listed or entry.common_as_listed or entry.accepted_name for entry in entries
    )


def _years_old(copy_date: str, on: date) -> float:
    """Greatest age of a copy in years: one known to the year alone may be of its first day."""
    if not copy_date:
        return UNDATED_YEARS
    year, month, day = (int(part) for part in f"{copy_date}-01-01"[:10].split("-"))
    return max(0.0, (on - date(year, month, day)).days / 365.25)
