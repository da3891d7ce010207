"""Which lists are due to be read again: law changes, and a reading ages."""

from collections.abc import Iterable
from datetime import date

from service.regulation.law import ListVersion


def due_for_review(
    versions: Iterable[ListVersion], on: date, months: int
) -> tuple[ListVersion, ...]:
    """The versions in force whose copy is older than so many months; a copy without a date is
    not among them.
    """
    return tuple(
        version
        for version in versions
        if version.in_force(on)
        and version.read_copy_date
        and _months(version.read_copy_date, on) > months
    )


def undated(versions: Iterable[ListVersion], on: date) -> tuple[ListVersion, ...]:
    """The versions in force whose copy has no date, so that nobody can tell how old the
    reading is.
    """
    return tuple(
        version for version in versions if version.in_force(on) and not version.read_copy_date
    )


def _months(copy_date: str, on: date) -> int:
    """Whole months since a date known to the year, the month or the day; an open part counts
    from its earliest.
    """
    year, month, day = (*(int(part) for part in copy_date.split("-")), 1, 1)[:3]
    return (on.year - year) * 12 + on.month - month - (on.day < day)
