"""A time limit on the work for one request, kept by the work itself: long loops ask, and so does
SQLite.

The limit travels with the context, so a worker thread that runs for a request knows the request's
limit.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from time import monotonic
from typing import TypeVar

from service.errors import TookTooLong

_deadline: ContextVar[float | None] = ContextVar("deadline", default=None)
_T = TypeVar("_T")

STEPS_BETWEEN_LOOKS = 20_000
"""SQLite instructions between two looks at the clock, some milliseconds of work (measured here;
common practice, no source).
"""


def set_deadline(seconds: float) -> None:
    """Give the work of this context so many seconds from now; 0 takes the limit away."""
    _deadline.set(monotonic() + seconds if seconds else None)


@contextmanager
def unlimited() -> Iterator[None]:
    """Work that is not for this request alone, such as opening a new build."""
    held = _deadline.set(None)
    try:
        yield
    finally:
        _deadline.reset(held)


def is_past() -> bool:
    """Whether the time is up."""
    until = _deadline.get()
    return until is not None and monotonic() > until


def check() -> None:
    """Stop where the time is up.

    Raises:
        TookTooLong: it is.
    """
    if is_past():
        raise TookTooLong(
            "The answer took longer than the time limit.",
            next_step="Ask for less at once (fewer rows, places or sites, a smaller radius), or raise the limit.",
        )


def within_time(items: Iterable[_T]) -> Iterator[_T]:
    """The items, as long as there is time.

    Raises:
        TookTooLong: there is none left.
    """
    for item in items:
        check()
        yield item
