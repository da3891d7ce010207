"""What a result hangs on: one input at a time, and the share of the variance that each input brings
(Sobol indices).

An input is a group of coefficients of one kind, or a fact that nobody has given; those that do not
move the result for this plant at this site are left out. Each is taken as independent of the
others. First-order indices tell what an input brings alone, total indices what it brings with all
others together (Saltelli et al. 2010, Computer Physics Communications 181:259-270; computed by
``scipy.stats.sobol_indices``). The same seed gives the same figures.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from service.escape.draws import Array, Draws, triangular
from service.escape.interval import Interval
from service.escape.model import run
from service.escape.parameters import Parameters, default_parameters
from service.escape.percentiles import estimate
from service.escape.setting import setting, setting_in
from service.escape.values import PlannedMeasure
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.site import Climate, Place, Reached
from service.values.vocabulary import Jurisdiction
from service.values.words import ROUTE_NAMES

SEED = 20_100
"""Of the Sobol sequence's scrambling and of the bootstrap."""

_CHUNK = 1_024
_RESAMPLES = 100
_LEAST_MOVE = 1e-9


@dataclass(frozen=True, slots=True)
class InputEffect:
    """What one input does to the result.

    Attributes:
        low, high: the overall result with this input at its low and at its high end, all others
            half way.
        narrows_by: how far the two lie apart.
        first_order, total: Sobol indices with their 95% half widths.
    """

    name: str
    low: float
    high: float
    narrows_by: float
    first_order: float
    first_order_half_width: float
    total: float
    total_half_width: float


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Effects on the chance of escape to any water, the input with the largest total index first.

    Attributes:
        interval: 5th to 95th percentile.
        samples: runs of the chain behind the indices.
        mean, standard_deviation: of the result over the samples.
    """

    interval: Interval
    effects: tuple[InputEffect, ...]
    samples: int
    mean: float
    standard_deviation: float


def sensitivity(
    plant: Plant,
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Evidence | None,
    *,
    state: Jurisdiction | None = None,
    containment: Sequence[PlannedMeasure] = (),
    parameters: Parameters | None = None,
    base_samples: int = 256,
) -> Sensitivity:
    """One-at-a-time and Sobol effects of every uncertain input on the overall result.

    Args:
        evidence: taken for the same signature as ``assess``; records move no range.
        base_samples: a power of two; the chain runs ``base_samples * (inputs + 2)`` times.
    """
    known = parameters or default_parameters()
    there = setting(place, climate, waters, state, known).for_plant(plant.traits)
    interval = estimate(run(plant, there, tuple(containment)).overall(), there.draws).interval
    model = _Model(
        known,
        lambda sampled: run(
            plant,
            setting_in(place, climate, tuple(waters), state, sampled),
            tuple(containment),
        ).overall(),
    )
    names, low, high = model.moving()
    if not names:
        return Sensitivity(interval, (), 0, (interval.low + interval.high) / 2, 0.0)
    indices, results = _indices(model, names, base_samples)
    effects = [
        InputEffect(name, low[i], high[i], abs(high[i] - low[i]), *indices[i])
        for i, name in enumerate(names)
    ]
    return Sensitivity(
        interval,
        tuple(sorted(effects, key=lambda effect: (-round(effect.total, 9), effect.name))),
        base_samples * (len(names) + 2),
        float(results.mean()),
        float(results.std()),
    )


def _indices(
    model: "_Model", names: Sequence[str], base_samples: int
) -> tuple[list[tuple[float, float, float, float]], Array]:
    """First order and total index with their half widths, by input."""
    from scipy.stats import sobol_indices, uniform  # slow to import, and needed here alone

    runs: dict[str, Array] = {}

    def estimators(f_A: Array, f_B: Array, f_AB: Array) -> tuple[Array, Array]:
        runs.setdefault("A", f_A), runs.setdefault("B", f_B), runs.setdefault("AB", f_AB)
        return _saltelli(f_A, f_B, f_AB)

    found: Any = sobol_indices(
        func=lambda points: model.at(names, points),
        n=base_samples,
        dists=[uniform()] * len(names),  # type: ignore[list-item]
        method=estimators,
        rng=np.random.default_rng(SEED),
    )
    chosen = np.random.default_rng(SEED).integers(0, base_samples, (_RESAMPLES, base_samples))
    again = np.array(
        [_saltelli(runs["A"][:, i], runs["B"][:, i], runs["AB"][..., i]) for i in chosen]
    )[..., 0]
    half = (np.quantile(again, 0.975, axis=0) - np.quantile(again, 0.025, axis=0)) / 2
    first, total = np.ravel(found.first_order), np.ravel(found.total_order)
    rows = [
        (float(first[i]), float(half[0, i]), float(total[i]), float(half[1, i]))
        for i in range(len(names))
    ]
    return rows, np.concatenate((runs["A"].ravel(), runs["B"].ravel()))


def _saltelli(f_a: Array, f_b: Array, f_ab: Array) -> tuple[Array, Array]:
    """First order (Saltelli 2010) and total index (Jansen), each (inputs, 1)."""
    variance = np.maximum(np.var(np.concatenate((f_a, f_b), axis=-1), axis=-1), 1e-300)
    first: Array = np.mean(f_b * (f_ab - f_a), axis=-1) / variance
    total: Array = 0.5 * np.mean((f_a - f_ab) ** 2, axis=-1) / variance
    return first, total


@dataclass
class _Model:
    """The chain as a function of points in the unit cube, one axis an input."""

    parameters: Parameters
    chain: Callable[[Draws], Array]
    _asked: dict[str, None] = field(default_factory=dict)

    def at(self, names: Sequence[str], points: Array) -> Array:
        """Results at points of shape (inputs, n)."""
        number = points.shape[1]
        return np.concatenate(
            [self._at(names, points[:, i : i + _CHUNK]) for i in range(0, number, _CHUNK)]
        )

    def _at(self, names: Sequence[str], points: Array) -> Array:
        along: Mapping[str, Array] = dict(zip(names, points, strict=True))
        count = points.shape[1]
        half = np.full(count, 0.5)

        def share(key: str) -> Array:
            name = input_name(key)
            self._asked[name] = None
            return triangular(along.get(name, half))

        def fact(key: str) -> Array:
            name = f"not stated: {key}"
            self._asked[name] = None
            return along.get(name, half)

        sampled = Draws(self.parameters, False, share, fact, count)
        return self.chain(sampled)[:count]

    def moving(self) -> tuple[list[str], list[float], list[float]]:
        """The inputs that move the result, and the result at the low and the high end of each."""
        self._at((), np.zeros((0, 1)))
        names = list(self._asked)
        number = len(names)
        points = np.full((number, 2 * number), 0.5)
        for i in range(number):
            points[i, i], points[i, number + i] = 0.0, 1.0
        results = self.at(names, points)
        low, high = results[:number], results[number:]
        kept = [i for i in range(number) if abs(high[i] - low[i]) > _LEAST_MOVE]
        return (
            [names[i] for i in kept],
            [float(low[i]) for i in kept],
            [float(high[i]) for i in kept],
        )


_OPENINGS = {
    "storm": "overflow",
    "flood": "flood",
    "bank": "bank",
    "lined_bank": "bank",
    "visited": "birds-and-visitors",
    "unvisited": "birds-and-visitors",
    "surplus": "surplus",
}
_TRAVEL = {
    "drift": "travel: by water",
    "sheet": "travel: by water",
    "still_water": "travel: by water",
    "creep": "travel: over the bank",
    "carried": "travel: carried",
    "given": "travel: given away",
    "unmapped": "travel: by water",
}
_PLAIN = {
    "founding": "founding",
    "history": "history and ways of the plant",
    "warm": "warm end",
    "season": "growing season",
    "measure": "containment",
    "propagule_size": "containment",
}


def input_name(key: str) -> str:
    """The input that a coefficient belongs to."""
    first, second, *rest = key.split(".")
    if first == "open":
        if second == "area":
            return "planted area"
        route = _OPENINGS.get(rest[0]) if second == "chance" else "outlet"
        return f"way out: {ROUTE_NAMES[route]}" if route else "way out: stated closed"  # type: ignore[index]
    if first == "carry":
        return f"shedding: {rest[0]}"
    if first == "reach":
        return _TRAVEL[second]
    if first == "winter":
        return "warm end" if rest[0] == "warm" else "winter"
    if first == "habitat":
        return {"depth": "depth of the water", "flow": "flow of the water", "form": "room"}.get(
            second, "light"
        )
    return _PLAIN[first]
