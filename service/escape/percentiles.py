"""From samples to figures: the 5th, 50th and 95th percentile, and what cannot be excluded."""

from collections.abc import Sequence

import numpy as np

from service.escape.draws import FIFTH, MIDDLE, NINETY_FIFTH, Array, Draws
from service.escape.interval import Interval
from service.escape.values import Estimate


def percentiles(columns: Sequence[Array], draws: Draws) -> Array:
    """The figures of estimates over the rows of each column.

    Args:
        columns: of (rows,), or several as (number, rows).

    Returns:
        (5, columns): likely, low, high, and the two ends of what cannot be excluded.
    """
    rows = np.concatenate([np.atleast_2d(column) for column in columns])
    number = draws.count
    first = rows[:, :number]
    if draws.full:
        likely = np.partition(first, MIDDLE)[:, MIDDLE]
        low = np.partition(rows[:, number : 2 * number], FIFTH)[:, FIFTH]
        high = np.partition(rows[:, 2 * number : 3 * number], NINETY_FIFTH)[:, NINETY_FIFTH]
        low, high = np.minimum(low, likely), np.maximum(high, likely)
    else:
        ordered = np.partition(first, (FIFTH, MIDDLE, NINETY_FIFTH))
        likely, low, high = ordered[:, MIDDLE], ordered[:, FIFTH], ordered[:, NINETY_FIFTH]
    bottom, top = np.minimum(rows[:, -3], low), np.maximum(rows[:, -1], high)
    return np.stack((likely, low, high, bottom, np.minimum(1.0, top)))


def as_estimates(figures: Array) -> list[Estimate]:
    """The estimate of each column of ``percentiles``."""
    return [
        Estimate(likely, low, high, Interval(bottom, top))
        for likely, low, high, bottom, top in figures.T.tolist()
    ]


def estimate(rows: Array, draws: Draws) -> Estimate:
    """The estimate of (rows,)."""
    return as_estimates(percentiles([rows], draws))[0]


def with_records(plain: Array, lifted: Array) -> Array:
    """Figures of ``percentiles`` with records, from those without and with the lift: they raise
    ``likely`` and the low ends, and leave the high ends, which allow for a good fit already.
    """
    low = np.minimum(np.maximum(plain[1], lifted[1]), plain[2])
    likely = np.minimum(np.maximum(np.maximum(plain[0], lifted[0]), low), plain[2])
    bottom = np.minimum(np.maximum(plain[3], lifted[3]), low)
    return np.stack((likely, low, plain[2], bottom, plain[4]))
