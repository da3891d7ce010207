"""A limit on the work for one request, kept by the work itself: long loops ask, and so does SQLite.

The limit travels with the context, so a worker thread that runs for a request knows the request's
limit. Time spent waiting for a slow client is not work and moves the limit on.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from math import inf
from time import monotonic
from typing import TypeVar

from service.errors import GivenUp, TookTooLong

_T = TypeVar("_T")

STEPS_BETWEEN_LOOKS = 20_000
"""SQLite instructions between two looks at the clock, some milliseconds of work (measured here;
common practice, no source).
"""


@dataclass(slots=True)
class WorkLimit:
    """When the work of a request has to end. Shared by the threads and tasks that work for it."""

    until: float = inf
    given_up: bool = False

    def give_up(self) -> None:
        """Stop the work: nobody waits for it."""
        self.given_up = True

    def wait(self, seconds: float) -> None:
        """Leave time out of the count in which the work could not go on."""
        self.until += seconds


_limit: ContextVar[WorkLimit | None] = ContextVar("limit", default=None)


def current_limit() -> WorkLimit | None:
    """The limit of this context, if it has one."""
    return _limit.get()


def set_deadline(seconds: float) -> WorkLimit:
    """Give the work of this context so many seconds from now; 0 sets no limit of time."""
    limit = WorkLimit(monotonic() + seconds if seconds else inf)
    _limit.set(limit)
    return limit


@contextmanager
def unlimited() -> Iterator[None]:
    """Work that is not for this request alone, such as opening a new build."""
    before = _limit.set(None)
    try:
        yield
    finally:
        _limit.reset(before)


def is_past() -> bool:
    """Whether the work has to end: the time is up, or nobody waits for it."""
    limit = _limit.get()
    return limit is not None and (limit.given_up or monotonic() > limit.until)


def check() -> None:
    """Stop where the work has to end.

    Raises:
        TookTooLong: the time is up.
        GivenUp: nobody waits for the answer.
    """
    limit = _limit.get()
    if limit is None:
        return
    if limit.given_up:
        raise GivenUp("The client went away before the answer was ready.")
    if monotonic() > limit.until:
        raise TookTooLong(
            "The answer took longer than the time limit.",
            next_step="Ask for less at once (fewer rows, places or sites, a smaller radius), "
            "or raise the limit.",
        )


def within_time(items: Iterable[_T]) -> Iterator[_T]:
    """The items, as long as there is time.

    Raises:
        TookTooLong, GivenUp: see ``check``.
    """
    for item in items:
        check()
        yield item
