"""One version of a list against another, entry by entry, as typed changes that can be applied
again.

``apply(compare(a, b), a) == b`` for any two versions of a list.
"""

from bisect import bisect_left
from collections import defaultdict, deque
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any, Literal, TypeVar, get_args

from service.errors import BadRequest
from service.regulation.law import Entry, ListClass, ListVersion, Term
from service.values.vocabulary import Jurisdiction, ListId

EntryChangeKind = Literal[
    "added",
    "removed",
    "class-changed",
    "acts-changed",  # its class restricts other acts now
    "permit-changed",  # its class gives permits otherwise now
    "scope-changed",
    "area-changed",
    "exceptions-changed",
    "condition-changed",
    "terms-changed",  # the structure read out of the same words
    "name-changed",
    "reverified",  # known otherwise now: from memory to read, say
    "source-changed",  # the address where it was read
    "moved",  # to another place in the order of the list
]
ENTRY_CHANGE_KINDS: tuple[EntryChangeKind, ...] = get_args(EntryChangeKind)

ClassChangeKind = Literal[
    "added",
    "removed",
    "acts-changed",
    "duty-changed",
    "permit-changed",
    "terms-changed",
    "summary-changed",
    "reverified",
    "moved",
]

Event = Literal[
    "compared",  # two versions compared
    "came-into-force",  # the first version loaded
    "replaced",  # by the next version loaded
    "lapsed",  # no version loaded follows
    "amended",  # the text loaded is as amended this day; the earlier text is not loaded
    "dated-terms",  # entries whose own dates fall on this day
]

HeaderValue = str | date | None
_NO_LAW: frozenset[EntryChangeKind] = frozenset({"reverified", "source-changed", "moved"})


@dataclass(frozen=True, slots=True)
class EntryChange:
    """What became of one entry.

    Attributes:
        position_before, position: its place in the earlier and in the later version, from 0.
    """

    kinds: tuple[EntryChangeKind, ...]
    before: Entry | None
    after: Entry | None
    position_before: int | None
    position: int | None

    @property
    def alters_law(self) -> bool:
        """Whether what the entry says changed, not only how it is known or where it is."""
        return any(kind not in _NO_LAW for kind in self.kinds)

    @property
    def entry(self) -> Entry:
        """The entry as it is now, or as it last was."""
        entry = self.after or self.before
        assert entry is not None
        return entry


@dataclass(frozen=True, slots=True)
class ClassChange:
    """What became of one class of the list."""

    kinds: tuple[ClassChangeKind, ...]
    before: ListClass | None
    after: ListClass | None
    position_before: int | None
    position: int | None

    @property
    def alters_law(self) -> bool:
        """Whether what the class says changed, not only how it is known, summed up, or where it
        is.
        """
        return any(kind not in ("summary-changed", "reverified", "moved") for kind in self.kinds)


@dataclass(frozen=True, slots=True)
class HeaderChange:
    """A field of the list itself that changed; ``field`` is the name of an attribute of
    ``ListVersion``.
    """

    field: str
    before: HeaderValue
    after: HeaderValue


@dataclass(frozen=True, slots=True)
class DatedTerm:
    """An entry with a day of its own: barred from it, or stock in hand no longer spared after
    it.
    """

    entry: Entry
    term: Term
    effect: Literal["begins", "sell-off-ends"]


@dataclass(frozen=True, slots=True)
class ListChanges:
    """What happened to one list.

    Attributes:
        on: the first day under the later state; None for versions compared side by side.
        version_before, version_after: first day of each version, None where not established or not
            loaded.
        note: what is not known of the change, for a person; empty when all is.
    """

    list_id: ListId
    jurisdiction: Jurisdiction
    title: str
    event: Event
    on: date | None = None
    version_before: date | None = None
    version_after: date | None = None
    header: tuple[HeaderChange, ...] = ()
    classes: tuple[ClassChange, ...] = ()
    entries: tuple[EntryChange, ...] = ()
    dated: tuple[DatedTerm, ...] = ()
    note: str = ""


def compare(before: ListVersion, after: ListVersion) -> ListChanges:
    """Every difference between two versions of one list.

    Raises:
        BadRequest: they are versions of two lists.
    """
    if before.list_id != after.list_id:
        raise BadRequest(
            f"{before.list_id} and {after.list_id} are two lists, not versions of one.",
            next_step="Compare versions with the same list_id.",
        )
    return ListChanges(
        list_id=after.list_id,
        jurisdiction=after.jurisdiction,
        title=after.title,
        event="compared",
        version_before=before.effective_from,
        version_after=after.effective_from,
        header=tuple(_header_changes(before, after)),
        classes=tuple(_class_changes(before, after)),
        entries=tuple(_entry_changes(before, after)),
    )


def apply(changes: ListChanges, version: ListVersion) -> ListVersion:
    """The later version, made from the earlier one and the changes.

    Raises:
        BadRequest: the changes were not found on this version.
    """
    for change in changes.header:
        if getattr(version, change.field) != change.before:
            raise _other_version(changes, change.field)
    header: dict[str, Any] = {
        change.field: change.after for change in changes.header
    }  # each field has a type of its own
    classes = _applied(
        [
            (change.before, change.after, change.position_before, change.position, change.kinds)
            for change in changes.classes
        ],
        version.classes,
    )
    entries = _applied(
        [
            (change.before, change.after, change.position_before, change.position, change.kinds)
            for change in changes.entries
        ],
        version.entries,
    )
    if classes is None or entries is None:
        raise _other_version(changes, "an entry or a class")
    return replace(version, classes=classes, entries=entries, **header)


def _other_version(changes: ListChanges, what: str) -> BadRequest:
    return BadRequest(
        f"The changes of {changes.list_id} were found on another version than this one: {what} is "
        "not as it was then."
    )


def _header_changes(before: ListVersion, after: ListVersion) -> Iterable[HeaderChange]:
    for header in fields(ListVersion):
        if header.name not in ("classes", "entries"):
            was, now = getattr(before, header.name), getattr(after, header.name)
            if was != now:
                yield HeaderChange(header.name, was, now)


def _class_changes(before: ListVersion, after: ListVersion) -> Iterable[ClassChange]:
    pairs = _matched(before.classes, after.classes, (lambda rule: rule.name,))
    for was, now, moved in _aligned(pairs, len(before.classes), len(after.classes)):
        old = before.classes[was] if was is not None else None
        new = after.classes[now] if now is not None else None
        kinds = _class_kinds(old, new, moved)
        if kinds:
            yield ClassChange(kinds, old, new, was, now)


def _class_kinds(
    old: ListClass | None, new: ListClass | None, moved: bool
) -> tuple[ClassChangeKind, ...]:
    if old is None or new is None:
        return ("added",) if old is None else ("removed",)
    differs: dict[ClassChangeKind, bool] = {
        "acts-changed": _reach_of_class(old) != _reach_of_class(new),
        "duty-changed": old.duty != new.duty,
        "permit-changed": (old.permit, old.permit_for) != (new.permit, new.permit_for),
        "terms-changed": old.terms != new.terms,
        "summary-changed": old.summary != new.summary,
        "reverified": old.how_known != new.how_known,
        "moved": moved,
    }
    return tuple(kind for kind, changed in differs.items() if changed)


def _reach_of_class(rule: ListClass) -> tuple[object, ...]:
    return (rule.acts, rule.acts_known, rule.every_aquatic_plant, rule.open_definition)


def _entry_changes(before: ListVersion, after: ListVersion) -> Iterable[EntryChange]:
    rules_before = {rule.name: rule for rule in before.classes}
    rules_after = {rule.name: rule for rule in after.classes}
    pairs = _matched(before.entries, after.entries, _SAME_ENTRY)
    for was, now, moved in _aligned(pairs, len(before.entries), len(after.entries)):
        old = before.entries[was] if was is not None else None
        new = after.entries[now] if now is not None else None
        kinds: tuple[EntryChangeKind, ...]
        if old is None or new is None:
            kinds = ("added",) if old is None else ("removed",)
        else:
            kinds = _entry_kinds(
                old, new, rules_before[old.class_name], rules_after[new.class_name], moved
            )
        if kinds:
            yield EntryChange(kinds, old, new, was, now)


def _entry_kinds(
    old: Entry, new: Entry, rules_before: ListClass, rules_after: ListClass, moved: bool
) -> tuple[EntryChangeKind, ...]:
    words_differ = (old.area, old.exceptions, old.condition) != (
        new.area,
        new.exceptions,
        new.condition,
    )
    differs: dict[EntryChangeKind, bool] = {
        "class-changed": old.class_name != new.class_name,
        "acts-changed": _reach_of_class(rules_before) != _reach_of_class(rules_after)
        or rules_before.terms != rules_after.terms,
        "permit-changed": (rules_before.permit, rules_before.permit_for)
        != (rules_after.permit, rules_after.permit_for),
        "scope-changed": old.scope != new.scope,
        "area-changed": old.area != new.area,
        "exceptions-changed": old.exceptions != new.exceptions,
        "condition-changed": old.condition != new.condition,
        "terms-changed": old.terms != new.terms and not words_differ,
        "name-changed": _name(old) != _name(new),
        "reverified": old.how_known != new.how_known,
        "source-changed": old.read_url != new.read_url,
        "moved": moved,
    }
    return tuple(kind for kind, changed in differs.items() if changed)


def _name(entry: Entry) -> tuple[str, ...]:
    return (
        entry.plant_id,
        entry.accepted_name,
        entry.rank,
        entry.name_as_listed,
        entry.common_as_listed,
    )


def _listed(entry: Entry) -> str:
    return entry.name_as_listed or entry.common_as_listed


_SAME_ENTRY: tuple[Callable[[Entry], Hashable], ...] = (
    lambda entry: entry,
    lambda entry: (entry.class_name, entry.key),
    lambda entry: entry.key,
    lambda entry: (entry.class_name, entry.accepted_name, _listed(entry)),
    lambda entry: (entry.accepted_name, _listed(entry)),
    lambda entry: (entry.class_name, _listed(entry) or entry.accepted_name),
    lambda entry: _listed(entry) or entry.accepted_name,
    lambda entry: entry.accepted_name,
)
"""What makes an entry the same as one of the other version, surest first."""

_T = TypeVar("_T")
_Step = tuple[_T | None, _T | None, int | None, int | None, Sequence[str]]


def _matched(
    before: Sequence[_T], after: Sequence[_T], keys: Sequence[Callable[[_T], Hashable]]
) -> dict[int, int]:
    """Places in ``before`` to places in ``after``."""
    pairs: dict[int, int] = {}
    left, open_after = list(range(len(before))), list(range(len(after)))
    for key in keys:
        waiting: dict[Hashable, deque[int]] = defaultdict(deque)
        for place in left:
            waiting[key(before[place])].append(place)
        for place in open_after:
            queue = waiting.get(key(after[place]))
            if queue:
                pairs[queue.popleft()] = place
        taken = set(pairs.values())
        left = [place for place in left if place not in pairs]
        open_after = [place for place in open_after if place not in taken]
    return pairs


def _aligned(
    pairs: dict[int, int], count_before: int, count_after: int
) -> Iterable[tuple[int | None, int | None, bool]]:
    """(place before, place after, whether it moved), in the order of the later version, removed
    ones first.
    """
    stable = _longest_in_order([pairs[was] for was in sorted(pairs)])
    yield from ((was, None, False) for was in range(count_before) if was not in pairs)
    came_from = {now: was for was, now in pairs.items()}
    for now in range(count_after):
        was = came_from.get(now)
        yield was, now, was is not None and now not in stable


def _longest_in_order(places: Sequence[int]) -> frozenset[int]:
    """The members of a longest increasing run of distinct places."""
    tails: list[int] = []
    before: dict[int, int | None] = {}
    for place in places:
        length = bisect_left(tails, place)
        before[place] = tails[length - 1] if length else None
        tails[length : length + 1] = [place]
    kept: set[int] = set()
    current = tails[-1] if tails else None
    while current is not None:
        kept.add(current)
        current = before[current]
    return frozenset(kept)


def _applied(steps: Iterable[_Step[_T]], present: tuple[_T, ...]) -> tuple[_T, ...] | None:
    """The later sequence; None where a step does not fit the present one."""
    kept: dict[int, _T] = dict(enumerate(present))
    inserted: list[tuple[int, _T]] = []
    for old, new, was, now, kinds in steps:
        if was is not None:
            if was not in kept or kept[was] != old:
                return None
            if new is None or "moved" in kinds:
                del kept[was]
            else:
                kept[was] = new
        if now is not None and new is not None and (was is None or "moved" in kinds):
            inserted.append((now, new))
    result = list(kept.values())
    for place, part in sorted(inserted, key=lambda pair: pair[0]):
        result.insert(place, part)
    return tuple(result)
