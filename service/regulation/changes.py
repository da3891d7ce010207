"""How the law loaded here changed over time, and which plants that touches.

A change falls on the first day under the later state. ``changes_between(law, since, until)`` covers
what sets the law of ``until`` apart
from the law of ``since``: days after ``since``, up to and with ``until``.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service.errors import BadRequest
from service.regulation.comparison import (
    ENTRY_CHANGE_KINDS,
    ClassChange,
    ClassChangeKind,
    DatedTerm,
    EntryChange,
    EntryChangeKind,
    Event,
    HeaderChange,
    ListChanges,
    apply,
    compare,
)
from service.regulation.law import Entry, LawBook, ListVersion, Term
from service.regulation.subject import INFRASPECIFIC, Subject
from service.values.vocabulary import FEDERAL, Jurisdiction, ListId, PlantId

__all__ = [
    "ENTRY_CHANGE_KINDS",
    "ClassChange",
    "ClassChangeKind",
    "DatedTerm",
    "EntryChange",
    "EntryChangeKind",
    "Event",
    "HeaderChange",
    "ListChanges",
    "Touched",
    "apply",
    "boundary_days",
    "changes_between",
    "compare",
    "touched",
]

_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Touched:
    """A plant of a stock that a change of law reaches.

    ``change`` is of the entry, its date, or its class.
    """

    plant_id: PlantId
    name: str
    list_changes: ListChanges
    change: EntryChange | DatedTerm | ClassChange


def changes_between(
    law: LawBook, since: date, until: date, jurisdiction: Jurisdiction | None = None
) -> tuple[ListChanges, ...]:
    """What changed after ``since``, up to and with ``until``: by day, then jurisdiction, then list.

    Raises:
        BadRequest: the span runs backwards.
    """
    if until < since:
        raise BadRequest(
            f"The span runs backwards: {since.isoformat()} to {until.isoformat()}.",
            pointer="/until",
        )
    by_list: dict[ListId, list[ListVersion]] = defaultdict(list)
    for version in law.versions if jurisdiction is None else law.lists_of(jurisdiction):
        by_list[version.list_id].append(version)
    found = [
        change
        for versions in by_list.values()
        for day in sorted(
            {day for version in versions for day in _days(version) if since < day <= until}
        )
        for change in _on_day(versions, day)
    ]
    return tuple(
        sorted(found, key=lambda item: (item.on or date.min, item.jurisdiction, item.list_id))
    )


def boundary_days(law: LawBook, jurisdiction: Jurisdiction) -> tuple[date, ...]:
    """Days on which a finding there may differ from that of the day before.

    Between them findings stay as they are.
    """
    versions = (
        *law.lists_of(jurisdiction),
        *(law.lists_of(FEDERAL) if jurisdiction != FEDERAL else ()),
    )
    return tuple(sorted({day for version in versions for day in _days(version)}))


def touched(changes: Iterable[ListChanges], subjects: Sequence[Subject]) -> tuple[Touched, ...]:
    """The plants of a stock that changes of law reach, in the order of the changes and then of
    the stock.

    A change that only says how an entry is known, or where it is in the list, touches nothing. A
    class on every aquatic plant touches those that may be aquatic.
    """
    by_plant: dict[PlantId, list[int]] = defaultdict(list)
    for place, subject in enumerate(subjects):
        for plant_id in set(subject.bearing):
            by_plant[plant_id].append(place)
    found: list[Touched] = []
    for list_changes in changes:
        for change in _reaching_plants(list_changes):
            entries = _entries_of(change)
            reached = {
                place
                for entry in entries
                for place in by_plant[entry.plant_id]
                if not _leaves_out(entry, subjects[place])
            }
            if not entries:
                reached = {
                    place for place, subject in enumerate(subjects) if subject.aquatic != "no"
                }
            for place in sorted(reached):
                found.append(
                    Touched(subjects[place].plant_id, subjects[place].name, list_changes, change)
                )
    return tuple({(item.plant_id, id(item.change)): item for item in found}.values())


def _reaching_plants(
    list_changes: ListChanges,
) -> Iterable[EntryChange | DatedTerm | ClassChange]:
    yield from (change for change in list_changes.entries if change.alters_law)
    yield from list_changes.dated
    for change in list_changes.classes:
        # A class that reaches every aquatic plant has no entries of its own.
        if change.alters_law and any(
            rule is not None and rule.every_aquatic_plant for rule in (change.before, change.after)
        ):
            yield change


def _entries_of(change: EntryChange | DatedTerm | ClassChange) -> tuple[Entry, ...]:
    if isinstance(change, DatedTerm):
        return (change.entry,)
    if isinstance(change, ClassChange):
        return ()
    return tuple(entry for entry in (change.before, change.after) if entry is not None)


def _leaves_out(entry: Entry, subject: Subject) -> bool:
    sister = (
        entry.rank in INFRASPECIFIC
        and entry.plant_id != subject.plant_id
        and entry.plant_id in subject.lineage
    )
    return sister or any(
        taxon in subject.lineage
        for term in entry.terms
        if term.kind == "except-taxa"
        for taxon in term.taxa
    )


def _days(version: ListVersion) -> Iterable[date]:
    """Days on which the version, or an entry of it, changes what a finding says."""
    yield from (
        day
        for day in (version.effective_from, version.superseded_on, version.amended)
        if day is not None
    )
    for entry in version.entries:
        for term in entry.terms:
            day = _day_of(term)
            if day is not None:
                yield day


def _day_of(term: Term) -> date | None:
    """The first day on which a dated term makes a difference."""
    if term.kind == "from-date":
        return term.on
    if term.kind == "sold-off-until" and term.on is not None:
        return term.on + _DAY
    return None


def _on_day(versions: Sequence[ListVersion], day: date) -> Iterable[ListChanges]:
    before = _in_force(versions, day - _DAY)
    after = _in_force(versions, day)
    if before is not None and after is not None and before is not after:
        yield replace(compare(before, after), event="replaced", on=day)
    elif before is None and after is not None:
        yield replace(
            compare(replace(after, classes=(), entries=()), after),
            event="came-into-force",
            on=day,
            version_before=None,
            note="No earlier version is loaded, so what of it is new is not known.",
        )
    elif before is not None and after is None:
        yield replace(
            compare(before, replace(before, classes=(), entries=())),
            event="lapsed",
            on=day,
            version_after=None,
            note="No later version is loaded, so what took its place is not known.",
        )
    elif after is not None:
        yield from _within(after, day)


def _within(version: ListVersion, day: date) -> Iterable[ListChanges]:
    """What one version, in force before and after, says of a day."""
    plain = ListChanges(
        version.list_id,
        version.jurisdiction,
        version.title,
        "amended",
        day,
        version.effective_from,
        version.effective_from,
    )
    if version.amended == day:
        yield replace(
            plain,
            note=(
                "The text loaded is as amended this day; the text before it is not loaded, so what "
                "changed is not known."
            ),
        )
    dated = tuple(_dated_terms(version, day))
    if dated:
        yield replace(plain, event="dated-terms", dated=dated)


def _dated_terms(version: ListVersion, day: date) -> Iterable[DatedTerm]:
    for entry in version.entries:
        for term in entry.terms:
            if _day_of(term) == day:
                yield DatedTerm(
                    entry, term, "begins" if term.kind == "from-date" else "sell-off-ends"
                )


def _in_force(versions: Sequence[ListVersion], on: date) -> ListVersion | None:
    return next((version for version in versions if version.in_force(on)), None)
