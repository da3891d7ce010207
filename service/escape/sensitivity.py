"""What a result hangs on: one input at a time, and the share of the variance that each input brings
(Sobol indices).

The inputs are the parts of the chain that are ranges for this plant at this site; a part known
exactly cannot move the result and is left out. Each is taken as spread evenly over its range,
independent of the others. First-order indices tell what an input brings alone, total indices what
it brings with all others together (Saltelli et al. 2010, Computer Physics Communications
181:259-270; computed by SALib). The same seed gives the same figures.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypedDict

import numpy as np

from service.escape import chain
from service.escape.establish import at_site
from service.escape.habitat import depth_match, flow_match, light_match, origin, room
from service.escape.interval import Interval
from service.escape.model import Inputs, case_of, inputs_of, run
from service.escape.parameters import Parameters, default_parameters
from service.escape.release import PROPAGULES, ROUTES, WATERBORNE, Array
from service.escape.setting import setting, to_interval
from service.escape.values import PlannedMeasure
from service.escape.wording import ROUTE_NAMES
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.site import Climate, Place
from service.values.waters import Reached, Water

SEED = 20_100
"""Of the Sobol sequence's scrambling and of the bootstrap."""

_CHUNK = 256


class _Problem(TypedDict):
    """The inputs as SALib wants them described."""

    num_vars: int
    names: list[str]
    bounds: list[list[float]]


@dataclass(frozen=True, slots=True)
class InputEffect:
    """What one input does to the result.

    Attributes:
        low, high: the overall result with this input at its low and at its high end, all others
            half way.
        narrows_by: fall in the width of the overall interval if this input were known to be half
            way.
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
    containment: Sequence[PlannedMeasure] = (),
    parameters: Parameters = default_parameters(),
    base_samples: int = 256,
) -> Sensitivity:
    """One-at-a-time and Sobol effects of every range on the overall result.

    Args:
        base_samples: a power of two; the chain runs ``base_samples * (inputs + 2)`` times.
    """
    there = setting(place, climate, waters, parameters)
    inputs = inputs_of(case_of(plant, there, tuple(containment), evidence))
    model = _Model(inputs)
    interval = to_interval(run(inputs).overall)
    names = model.names
    if not names:
        return Sensitivity(interval, (), 0, interval.middle, 0.0)
    problem: _Problem = {
        "num_vars": len(names),
        "names": list(names),
        "bounds": [[0.0, 1.0]] * len(names),
    }
    from SALib.sample import sobol as sampler  # slow to import, and needed here alone

    points = sampler.sample(problem, base_samples, calc_second_order=False, seed=SEED)
    results = model.at(points)
    low, high = _one_at_a_time(model)
    narrows = _narrowing(model)
    indices = _indices(problem, results)
    effects = [
        InputEffect(
            name,
            low[i],
            high[i],
            narrows[i],
            *(indices[key][i] for key in ("S1", "S1_conf", "ST", "ST_conf")),
        )
        for i, name in enumerate(names)
    ]
    return Sensitivity(
        interval,
        tuple(sorted(effects, key=lambda effect: (-round(effect.total, 9), effect.name))),
        len(points),
        float(results.mean()),
        float(results.std()),
    )


def _indices(problem: _Problem, results: Array) -> dict[str, list[float]]:
    if float(results.std()) == 0.0:
        return {key: [0.0] * len(problem["names"]) for key in ("S1", "S1_conf", "ST", "ST_conf")}
    from SALib.analyze import sobol as analyzer

    found = analyzer.analyze(problem, results, calc_second_order=False, seed=SEED)
    return {
        key: [float(index) for index in found[key]] for key in ("S1", "S1_conf", "ST", "ST_conf")
    }


def _one_at_a_time(model: "_Model") -> tuple[list[float], list[float]]:
    number = len(model.names)
    points = np.full((2 * number, number), 0.5)
    for i in range(number):
        points[i, i], points[number + i, i] = 0.0, 1.0
    results = model.at(points).tolist()
    return results[:number], results[number:]


def _narrowing(model: "_Model") -> list[float]:
    number = len(model.names)
    lows, highs = np.zeros((number + 1, number)), np.ones((number + 1, number))
    for i in range(number):
        lows[i, i] = highs[i, i] = 0.5
    widths = model.at(highs) - model.at(lows)
    return [float(widths[number] - width) for width in widths[:number]]


class _Model:
    """The chain as a function of points in the unit cube, one axis an input that is a range."""

    def __init__(self, inputs: Inputs) -> None:
        self._inputs = inputs
        self._parts = _parts(inputs)
        self.names = tuple(self._parts)

    def at(self, points: Array) -> Array:
        """Results at points of shape (n, inputs)."""
        return np.concatenate(
            [self._at(points[i : i + _CHUNK]) for i in range(0, len(points), _CHUNK)]
        )

    def _at(self, points: Array) -> Array:
        place = self._inputs.case.setting
        along = dict(zip(self.names, points.T, strict=True))
        opening = self._routes(place.opening, along)
        away = self._propagules(self._inputs.carried, along)
        reach = self._reach(along)
        stand = _between(place.stand, along.get("planted area"))
        stand = np.broadcast_to(stand, (len(points),))
        of_plant = np.ones(len(points))
        of_water = np.ones((len(points), opening.shape[1]))
        for name, ends in _plant_parts(self._inputs).items():
            of_plant = of_plant * _between(np.array(ends), along.get(name))
        for name, water_ends in _water_parts(self._inputs).items():
            of_water = of_water * _between(water_ends, along.get(name))
        weight = place.parameters.value("evidence.prior.weight")
        established = chain.established(
            of_plant[:, np.newaxis] * of_water, self._inputs.looks, weight
        )
        shared = chain.established(of_plant[:, np.newaxis], self._inputs.looks, weight).max(axis=-1)
        arrives = chain.either_route(opening, chain.arriving(away, stand, reach))
        released = chain.either_route(opening.max(axis=1), chain.leaving(away, stand))
        return chain.to_any(arrives * established, shared, released)

    def _routes(self, ends: Array, along: dict[str, Array]) -> Array:
        """(n, waters, routes)."""
        columns = [
            _between(ends[:, :, r], along.get(f"way out: {ROUTE_NAMES[route]}"))
            for r, route in enumerate(ROUTES)
        ]
        return np.stack(_same_length(columns, along), axis=-1)

    def _propagules(self, ends: Array, along: dict[str, Array]) -> Array:
        """(n, routes, propagules); how readily a propagule travels is one input over all routes."""
        columns = [
            _between(ends[:, :, m], along.get(f"shedding: {propagule}"))
            for m, propagule in enumerate(PROPAGULES)
        ]
        return np.stack(_same_length(columns, along), axis=-1)

    def _reach(self, along: dict[str, Array]) -> Array:
        """(n, waters, routes, propagules); how far water, ground and carriers take things are
        three inputs.
        """
        ends = self._inputs.case.setting.reach
        columns = [
            _between(ends[:, :, r, :], along.get(_TRAVEL[route])) for r, route in enumerate(ROUTES)
        ]
        return np.stack(_same_length(columns, along), axis=2)


_TRAVEL = {
    **dict.fromkeys(WATERBORNE, "travel: by water"),
    "bank": "travel: over the bank",
    "birds-and-visitors": "travel: carried",
}


def _same_length(columns: list[Array], along: dict[str, Array]) -> list[Array]:
    number = len(next(iter(along.values())))
    return [np.broadcast_to(column, (number, *column.shape[1:])) for column in columns]


def _between(ends: Array, share: Array | None) -> Array:
    """Points between the two ends, along a new first axis of the samples; a range of no width
    needs no sample.
    """
    if share is None:
        return ends[:1]
    steps = share.reshape((-1,) + (1,) * (ends.ndim - 1))
    points: Array = ends[0] + steps * (ends[1] - ends[0])
    return points


def _parts(inputs: Inputs) -> dict[str, Array]:
    """Every input that is a range, by name, with its two ends."""
    place = inputs.case.setting
    found: dict[str, Array] = {}
    for r, route in enumerate(ROUTES):
        found[f"way out: {ROUTE_NAMES[route]}"] = place.opening[:, :, r]
    for m, propagule in enumerate(PROPAGULES):
        found[f"shedding: {propagule}"] = inputs.carried[:, :, m]
    for r, route in enumerate(ROUTES):
        made = inputs.carried[1, r] > 0
        ends = place.reach[:, :, r, made].reshape(2, -1)
        found[_TRAVEL[route]] = np.concatenate(
            (found.get(_TRAVEL[route], np.zeros((2, 0))), ends), axis=1
        )
    found["planted area"] = place.stand
    found.update({name: np.array(ends) for name, ends in _plant_parts(inputs).items()})
    found.update(_water_parts(inputs))
    return {
        name: ends for name, ends in found.items() if ends.size and bool((ends[1] > ends[0]).any())
    }


def _plant_parts(inputs: Inputs) -> dict[str, tuple[float, float]]:
    case = inputs.case
    shared = at_site(case.plant, case.setting.climate, case.setting.parameters).shared
    return {factor.name: (factor.interval.low, factor.interval.high) for factor in shared}


def _water_parts(inputs: Inputs) -> dict[str, Array]:
    """Name -> (2, waters)."""
    traits, place = inputs.case.plant.traits, inputs.case.setting
    parameters = place.parameters
    waters: list[Water | None] = [reached.water for reached in place.waters] or [None]
    kinds = [
        (water.kind, water.flow, water.states) if water else (None, None, ()) for water in waters
    ]
    by_name = {
        "depth of the water": [depth_match(traits, kind, parameters) for kind, _, _ in kinds],
        "flow of the water": [flow_match(traits.flow, flow, parameters) for _, flow, _ in kinds],
        "light": [light_match(traits, kind, parameters) for kind, _, _ in kinds],
        "room for the growth form": [
            room(traits.growth_form, kind, parameters) for kind, _, _ in kinds
        ],
        "origin": [origin(traits, states, parameters) for _, _, states in kinds],
    }
    return {
        name: np.array([(one.low, one.high) for one in found]).T for name, found in by_name.items()
    }
