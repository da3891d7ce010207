"""What changed in the law loaded since somebody last asked: by its days, and by what was loaded."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

from service.regulation.changes import ListChanges, changes_between, compare
from service.regulation.law import LawBook, ListVersion


def changes_since(
    law: LawBook, seen: Sequence[ListVersion], since: date, until: date
) -> tuple[ListChanges, ...]:
    """Each list in force then against the same list in force now, and the days of entries that
    came between.

    A change that only says how an entry is known, or where it stands, is none.

    Args:
        seen: the versions in force on ``since``, as they were then.
    """
    before = {version.list_id: version for version in seen}
    now = {version.list_id: version for version in law.versions if version.in_force(until)}
    found: list[ListChanges] = []
    for list_id in sorted({*before, *now}):
        old, new = before.get(list_id), now.get(list_id)
        if old is None and new is not None:
            bare = replace(new, classes=(), entries=())
            found.append(replace(compare(bare, new), event="came-into-force", version_before=None))
        elif old is not None and new is None:
            bare = replace(old, classes=(), entries=())
            found.append(replace(compare(old, bare), event="lapsed", version_after=None))
        elif old is not None and new is not None:
            found += _altered(compare(old, new))
    if since <= until:
        dated = changes_between(law, since, until)
        found += [change for change in dated if change.event == "dated-terms"]
    return tuple(found)


def _altered(change: ListChanges) -> Iterable[ListChanges]:
    entries = tuple(entry for entry in change.entries if entry.alters_law)
    classes = tuple(list_class for list_class in change.classes if list_class.alters_law)
    if entries or classes:
        yield replace(change, entries=entries, classes=classes, header=(), event="replaced")
