"""Chances as closed intervals, and their arithmetic.

A chance that nobody knows is the whole of what it may be, never a middle value. Every operation
here is monotone in the ends of its operands, so that a wider operand never gives a narrower result.
"""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Interval:
    """A closed interval of chances, ``0 <= low <= high <= 1``."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.low <= self.high <= 1.0:
            raise ValueError(f"not an interval of chances: {self.low} to {self.high}")

    @classmethod
    def point(cls, chance: float) -> "Interval":
        """A chance known exactly."""
        return cls(chance, chance)

    @property
    def width(self) -> float:
        return self.high - self.low

    @property
    def middle(self) -> float:
        """Half way; for ordering and for drawing only, never as a stand-in for the interval."""
        return (self.low + self.high) / 2

    def __contains__(self, other: object) -> bool:
        """Whether a chance or a whole interval lies within."""
        if isinstance(other, Interval):
            return self.low <= other.low and other.high <= self.high
        return isinstance(other, int | float) and self.low <= other <= self.high

    def __mul__(self, other: "Interval") -> "Interval":
        """Both of two independent things happen."""
        return Interval(self.low * other.low, self.high * other.high)

    def __or__(self, other: "Interval") -> "Interval":
        """Union: the smallest interval that holds both."""
        return Interval(min(self.low, other.low), max(self.high, other.high))

    def __and__(self, other: "Interval") -> "Interval":
        """Intersection.

        Raises:
            ValueError: nothing is common to the two.
        """
        if not self.overlaps(other):
            raise ValueError(f"nothing common to {self} and {other}")
        return Interval(max(self.low, other.low), min(self.high, other.high))

    def overlaps(self, other: "Interval") -> bool:
        return self.low <= other.high and other.low <= self.high

    def at_least(self, other: "Interval") -> "Interval":
        """The larger of the two, end by end."""
        return Interval(max(self.low, other.low), max(self.high, other.high))


IMPOSSIBLE = Interval(0.0, 0.0)
CERTAIN = Interval(1.0, 1.0)
UNKNOWN = Interval(0.0, 1.0)


def product(intervals: Iterable[Interval]) -> Interval:
    """All of several independent things happen; of none, it is certain."""
    low = high = 1.0
    for interval in intervals:
        low *= interval.low
        high *= interval.high
    return Interval(low, high)


def noisy_or(intervals: Iterable[Interval]) -> Interval:
    """At least one of several independent things happens: 1 - (1-a)(1-b)...; of none, it is
    impossible.
    """
    miss_low = miss_high = 1.0
    for interval in intervals:
        miss_low *= 1.0 - interval.low
        miss_high *= 1.0 - interval.high
    return Interval(1.0 - miss_low, 1.0 - miss_high)


def union(intervals: Iterable[Interval]) -> Interval:
    """The smallest interval that holds all of one or more."""
    several = list(intervals)
    return Interval(min(one.low for one in several), max(one.high for one in several))
