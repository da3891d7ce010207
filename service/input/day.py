"""The day that an answer is for: as a person writes it, or today."""

import re
from contextvars import ContextVar
from datetime import UTC, date, datetime

from service.errors import BadRequest

_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_day: ContextVar[date | None] = ContextVar("day", default=None)


def read_day(text: str, pointer: str = "on") -> date:
    """A day as RFC 3339 writes it, ``2026-06-01``.

    Raises:
        BadRequest: written otherwise, or no day of the calendar.
    """
    plain = text.strip()
    if _ISO_DAY.fullmatch(plain):
        try:
            return date.fromisoformat(plain)
        except ValueError:
            pass
    raise BadRequest(
        f"{text!r} is not a valid day.", pointer=pointer, next_step="Write it as 2026-06-01."
    )


def pin_day() -> datetime:
    """Keep the present day (UTC) for the rest of the request, so that no answer is of two days.

    Returns the moment.
    """
    now = datetime.now(UTC)
    _day.set(now.date())
    return now


def today() -> date:
    """The day in UTC, which answers are for unless they name another."""
    return _day.get() or datetime.now(UTC).date()
