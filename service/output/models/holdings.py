"""What is loaded of the law and how it changed, as it is sent."""

from dataclasses import dataclass
from datetime import date

from service.output.models.law import Answer
from service.output.models.shape import Shape, may_be_left_out, usual
from service.regulation.changes import (
    ClassChange,
    DatedTerm,
    EntryChange,
    ListChanges,
)
from service.regulation.coverage import JurisdictionCoverage, ListHolding


@dataclass(frozen=True, slots=True)
class EntryMoved:
    """What became of one entry, or a day of its own that fell in the span."""

    name_as_listed: str
    accepted_name: str
    plant_id: str
    kinds: tuple[str, ...]
    class_before: str | None = may_be_left_out(None)
    class_after: str | None = may_be_left_out(None)
    words: str = may_be_left_out("")


@dataclass(frozen=True, kw_only=True)
class ChangesAnswer(Answer):
    """How the law loaded here changed between two days."""

    since: date
    until: date
    changes: tuple[ListChanges, ...]


@dataclass(frozen=True, kw_only=True)
class CoverageAnswer(Answer):
    """How much of the law is loaded, jurisdiction by jurisdiction."""

    jurisdictions: tuple[JurisdictionCoverage, ...]


def _header(found: ListChanges) -> dict[str, tuple[str | None, str | None]]:
    return {change.field: (_text(change.before), _text(change.after)) for change in found.header}


def _classes(found: ListChanges) -> dict[str, tuple[str, ...]]:
    return {_class_name(change): change.kinds for change in found.classes}


def _entries(found: ListChanges) -> tuple[EntryMoved, ...]:
    return (*map(_entry_change, found.entries), *map(_dated_term, found.dated))


def _text(value: str | date | None) -> str | None:
    return value.isoformat() if isinstance(value, date) else value


def _class_name(change: ClassChange) -> str:
    named = change.after or change.before
    return named.name if named else ""


def _entry_change(change: EntryChange) -> EntryMoved:
    return EntryMoved(
        name_as_listed=change.entry.name_as_listed,
        accepted_name=change.entry.accepted_name,
        plant_id=change.entry.plant_id,
        kinds=change.kinds,
        class_before=change.before.class_name if change.before else None,
        class_after=change.after.class_name if change.after else None,
    )


def _dated_term(dated: DatedTerm) -> EntryMoved:
    return EntryMoved(
        name_as_listed=dated.entry.name_as_listed,
        accepted_name=dated.entry.accepted_name,
        plant_id=dated.entry.plant_id,
        kinds=(dated.effect,),
        class_after=dated.entry.class_name,
        words=dated.term.words,
    )


usual(
    Shape(EntryMoved, name="EntryChange"),
    Shape(
        ListChanges,
        order="... header classes entries note",
        without="dated",
        kinds={"event": str},
        also={"header": _header, "classes": _classes, "entries": _entries},
    ),
    Shape(
        ListHolding,
        without="authority kind effective_from amended url",
        kinds={"completeness": str},
        order="list_id title citation completeness how_known entries entries_read read_copy_date",
    ),
    Shape(
        JurisdictionCoverage,
        order="jurisdiction name coverage entries entries_read share_read oldest_reading "
        "undated_copies lists ordinances",
        also={"share_read": "share_read"},
    ),
)
