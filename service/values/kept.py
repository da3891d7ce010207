"""What was worked out, kept for whoever asks again: never more than a bound, whatever is asked."""

from collections.abc import Hashable
from typing import Generic, TypeVar

_K = TypeVar("_K", bound=Hashable)
_V = TypeVar("_V")


class Kept(Generic[_K, _V]):
    """Values by key, up to a bound. What nobody asked for since half the bound came in goes.

    Two halves: the younger takes what is new or asked for again; when it is full it becomes the
    older, and the older before it goes. Safe to share between threads, for each step is a single
    one of a dict; two threads that fill a half at once may lose some of it early, never get a
    wrong value.

    >>> squares = Kept[int, int](4)
    >>> for number in range(9):
    ...     squares.put(number, number * number)
    >>> squares.get(8), squares.get(0), len(squares)
    (64, None, 3)
    """

    __slots__ = ("_half", "_old", "_weight", "_young")

    def __init__(self, most: int) -> None:
        """
        Args:
            most: the bound, in the unit of the weights.
        """
        self._half = most // 2
        self._young: dict[_K, _V] = {}
        self._old: dict[_K, _V] = {}
        self._weight = 0

    def get(self, key: _K, weight: int = 1) -> _V | None:
        """The value; None where none is kept.

        Args:
            weight: of the value, as it was put.
        """
        found = self._young.get(key)
        if found is None:
            found = self._old.get(key)
            if found is not None:
                self.put(key, found, weight)
        return found

    def put(self, key: _K, value: _V, weight: int = 1) -> None:
        """Keep a value, unless it would fill a half by itself."""
        if weight > self._half:
            return
        if self._weight + weight > self._half:
            self._old, self._young, self._weight = self._young, {}, 0
        self._young[key] = value
        self._weight += weight

    def __len__(self) -> int:
        return len(self._young) + len(self._old)
