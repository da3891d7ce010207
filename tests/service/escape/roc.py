"""Areas under ROC curves, with bootstrap intervals over genera."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

from tests.service.escape.genus_split import SEED, genus_of

BOOTSTRAPS = 1_000

Truth = NDArray[np.bool_]
Score = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Area:
    """Area under the ROC curve, with the 2.5 and 97.5% points of a bootstrap over genera."""

    value: float
    low: float
    high: float
    plants: int
    listed: int

    def text(self) -> str:
        """``0.815 (0.722 to 0.906)``."""
        return f"{self.value:.3f} ({self.low:.3f} to {self.high:.3f})"


def area_under_curve(truth: Truth, score: Score) -> float:
    """Chance that a listed plant scores above one that is not, ties counted half (Mann-Whitney)."""
    positives, negatives = int(truth.sum()), int((~truth).sum())
    ranks: Score = rankdata(score)
    return float((ranks[truth].sum() - positives * (positives + 1) / 2) / (positives * negatives))


def area(names: Sequence[str], score_of: dict[str, float], listed: frozenset[str]) -> Area:
    """Area for some plants. Whole genera are drawn again, for plants of one genus are alike."""
    truth = np.array([name in listed for name in names])
    score = np.array([score_of[name] for name in names])
    drawn = [area_under_curve(truth[rows], score[rows]) for rows in drawings(names, truth)]
    low, high = np.quantile(drawn, (0.025, 0.975)).tolist()
    return Area(area_under_curve(truth, score), low, high, len(names), int(truth.sum()))


def difference(
    names: Sequence[str],
    first: dict[str, float],
    second: dict[str, float],
    listed: frozenset[str],
) -> tuple[float, float, float]:
    """Area by ``first`` less area by ``second`` on the same plants, with the ends of its
    bootstrap.
    """
    truth = np.array([name in listed for name in names])
    one, two = (np.array([score[name] for name in names]) for score in (first, second))
    drawn = [
        area_under_curve(truth[rows], one[rows]) - area_under_curve(truth[rows], two[rows])
        for rows in drawings(names, truth)
    ]
    low, high = np.quantile(drawn, (0.025, 0.975)).tolist()
    return area_under_curve(truth, one) - area_under_curve(truth, two), low, high


def drawings(names: Sequence[str], truth: Truth) -> list[NDArray[np.intp]]:
    """Rows of every bootstrap draw: whole genera, with both outcomes among them."""
    genera = np.array([genus_of(name) for name in names])
    members = [np.flatnonzero(genera == genus) for genus in sorted(set(genera.tolist()))]
    draw = np.random.default_rng(SEED)
    found: list[NDArray[np.intp]] = []
    while len(found) < BOOTSTRAPS:
        rows = np.concatenate([members[i] for i in draw.integers(0, len(members), len(members))])
        if 0 < truth[rows].sum() < len(rows):
            found.append(rows)
    return found


def roc(truth: Truth, score: Score) -> tuple[Score, Score]:
    """False and true positive rates at every threshold, from none to all."""
    order = np.argsort(-score, kind="stable")
    hits, misses = np.cumsum(truth[order]), np.cumsum(~truth[order])
    last = np.append(np.flatnonzero(np.diff(score[order])), len(score) - 1)
    rates = [np.concatenate(([0.0], counts[last] / counts[-1])) for counts in (misses, hits)]
    return rates[0], rates[1]


def best_threshold(truth: Truth, score: Score) -> float:
    """Score at which sensitivity plus specificity is largest (Youden)."""
    thresholds = np.unique(score)
    gains = [
        truth[score >= limit].sum() / truth.sum() - (score >= limit)[~truth].mean()
        for limit in thresholds
    ]
    return float(thresholds[int(np.argmax(gains))])
