"""The samples: every coefficient over its range, and every fact that nobody has given over what it
may be.

All arrays of the model have rows as their last axis. The rows are blocks: the draws with the facts
that are unknown sampled; where any is unknown, the same draws with every unknown fact at its
mildest, and again at its worst; and last three single rows: every coefficient and unknown fact at
its mildest, all half way, all at their worst.

A coefficient lies in its range with a triangular density, on a logarithmic scale where its range
spans a factor of five or more and its unit is a length, an area or a flow. Experts err together:
the normal scores of all coefficients share a part of correlation ``sampling.shared.rho``, turned so
that it raises or lowers every result at once. Each coefficient's own part comes from a generator
seeded by its key, so that no answer, plant or water changes what is drawn for another (common
random numbers), and the same request gives the same figures.
"""

import hashlib
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from service.escape.parameters import Parameters

Array = NDArray[np.float64]

DRAWS = 301
"""Draws in a block: an odd number with whole-numbered positions of the 5th, 50th and 95th
percentile (15, 150 and 285).
"""
FIFTH, MIDDLE, NINETY_FIFTH = 15, 150, 285
SINGLE_ROWS = 3
"""At the end: all mildest, all half way, all worst."""
_LOGARITHMIC_FROM = 5.0
_LINEAR = ("share", "C", "count")
_MOST_KEPT = 1_024
T = TypeVar("T")
"""Units in which a range is never taken on a logarithmic scale."""


@dataclass(frozen=True, eq=False)
class Draws:
    """Coefficients row by row.

    Attributes:
        full: whether the blocks for unknown facts at their mildest and worst are there.
        shares: position of each draw in the range of a coefficient, by key; 0 low, 1 high.
        facts: position of each draw in the range of a fact that nobody has given, by key.
        count: draws in a block.
        kept: what was worked out from coefficients and the values in its key alone.
    """

    parameters: Parameters
    full: bool
    shares: Callable[[str], Array]
    facts: Callable[[str], Array]
    count: int = DRAWS
    _kept: dict[str, Array] = field(default_factory=dict)
    kept: "Kept" = field(default_factory=lambda: Kept(_MOST_KEPT))

    @property
    def rows(self) -> int:
        """Length of the last axis."""
        return self.count * (3 if self.full else 1) + SINGLE_ROWS

    def of(self, key: str) -> Array:
        """A coefficient, shape (rows,)."""
        kept = self._kept.get(key)
        if kept is None:
            kept = self._kept[key] = self._drawn(key)
        return kept

    def _drawn(self, key: str) -> Array:
        coefficient = self.parameters.coefficient(key)
        scale = _Scale(coefficient.low, coefficient.high, coefficient.unit not in _LINEAR)
        block = scale.at(self.shares(key))
        low, middle, high = scale.low, float(scale.at(np.array(0.5))), scale.high
        if self.parameters.directions[key] == "lowers":
            low, high = high, low
        blocks = [block] * (3 if self.full else 1)
        return np.concatenate((*blocks, (low, middle, high)))

    def known(self, value: float) -> Array:
        """A fact that is given."""
        return np.full(self.rows, value)

    def ranged(self, key: str, mildest: float, worst: float, *, logarithmic: bool = False) -> Array:
        """A quantity that nobody has given, anywhere between two ends."""
        scale = _Scale(min(mildest, worst), max(mildest, worst), logarithmic)
        shares = self.facts(key)
        sampled = scale.at(shares if mildest <= worst else 1.0 - shares)
        middle = float(scale.at(np.array(0.5)))
        return self._in_blocks(sampled, mildest, worst, middle)

    def _in_blocks(self, sampled: Array, mildest: float, worst: float, middle: float) -> Array:
        if not self.full:
            return np.concatenate((sampled, (mildest, middle, worst)))
        number = self.count
        return np.concatenate(
            (sampled, np.full(number, mildest), np.full(number, worst), (mildest, middle, worst))
        )

    def picks(self, key: str, number: int) -> NDArray[np.intp]:
        """Which of several answers each draw has, all equally often; shape (draws,)."""
        shares = self.facts(key)
        return np.minimum((shares * number).astype(np.intp), number - 1)

    def any_of(self, key: str, answers: Sequence[Array]) -> Array:
        """A fact that nobody has given, with what each answer would give, each (..., rows)."""
        if len(answers) == 1:
            return answers[0]
        stack = np.stack(answers)
        number = self.count
        picked = self.picks(key, len(answers)).reshape((1,) * (stack.ndim - 1) + (-1,))
        found: Array = stack.mean(axis=0)
        found[..., :number] = np.take_along_axis(stack[..., :number], picked, axis=0)[0]
        if self.full:
            mildest, worst = slice(number, 2 * number), slice(2 * number, 3 * number)
            found[..., mildest] = stack[..., mildest].min(axis=0)
            found[..., worst] = stack[..., worst].max(axis=0)
        found[..., -3], found[..., -1] = stack[..., -3].min(axis=0), stack[..., -1].max(axis=0)
        return found


class Kept:
    """What was worked out once, for the next plant or site that asks for the same; nobody may write
    into it. All is dropped when there is too much.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._by_key: dict[Hashable, object] = {}

    def of(self, key: Hashable, work: Callable[[], T]) -> T:
        """What stands under the key, worked out when first asked for."""
        by_key = self._by_key  # another thread may put a new one in its place
        if key not in by_key:
            if len(by_key) >= self._most:
                by_key = self._by_key = {}
            by_key[key] = work()
        return cast("T", by_key[key])


class _Scale:
    """A range, and where a share of it lies."""

    def __init__(self, low: float, high: float, may_be_logarithmic: bool) -> None:
        self.low, self.high = low, high
        self._logarithmic = may_be_logarithmic and low > 0 and high / low >= _LOGARITHMIC_FROM

    def at(self, share: Array) -> Array:
        found: Array
        if self._logarithmic:
            found = self.low * (self.high / self.low) ** share
        else:
            found = self.low + share * (self.high - self.low)
        return found


@lru_cache(maxsize=8)
def draws(parameters: Parameters, *, full: bool) -> Draws:
    """The draws of the model."""
    rho = parameters.value("sampling.shared.rho")

    def shares(key: str) -> Array:
        direction = parameters.directions[key]
        own = _normal_scores(_own_shares(key, DRAWS))
        if direction == "either":
            return triangular(_own_shares(key, DRAWS))
        sign = -1.0 if direction == "lowers" else 1.0
        common = sign * _normal_scores(_own_shares("all experts", DRAWS))
        return triangular(_shares_of(rho**0.5 * common + (1.0 - rho) ** 0.5 * own))

    return Draws(parameters, full, shares, lambda key: _own_shares(f"fact:{key}", DRAWS))


@lru_cache(maxsize=1024)
def _own_shares(key: str, number: int) -> Array:
    """One value in each of ``number`` equal strata, in an order that the key decides."""
    seed = int.from_bytes(hashlib.sha256(key.encode()).digest()[:8], "big")
    order = np.random.Generator(np.random.PCG64(seed)).permutation(number)
    found: Array = (order + 0.5) / number
    found.setflags(write=False)
    return found


def _normal_scores(shares: Array) -> Array:
    from scipy.special import ndtri  # slow to import, and needed once a set of coefficients

    found: Array = ndtri(shares)
    return found


def _shares_of(scores: Array) -> Array:
    from scipy.special import ndtr

    found: Array = ndtr(scores)
    return found


def triangular(shares: Array) -> Array:
    """Quantiles of the symmetric triangular density on 0 to 1."""
    found: Array = np.where(
        shares < 0.5, np.sqrt(shares / 2.0), 1.0 - np.sqrt((1.0 - shares) / 2.0)
    )
    return found
