"""What each measure takes away from each route, as a share of what would leave by it."""

from collections.abc import Mapping, Sequence

import numpy as np

from service.escape.draws import Array, Draws, draws
from service.escape.leaves import ROUTES, made, residual_of_all, shed
from service.escape.parameters import Parameters, default_parameters
from service.escape.values import MeasureEffect, PlannedMeasure, RouteShare
from service.values.plants import Plant, Traits
from service.values.site import EscapeRoute
from service.values.words import ROUTE_NAMES

_NOTHING = 0.005


def measure_effects(
    plant: Plant,
    measures: Sequence[PlannedMeasure],
    parameters: Parameters | None = None,
) -> tuple[MeasureEffect, ...]:
    """Each measure by itself: what it takes from every route by which the plant can leave.

    The share is of the chance that something leaves by the route when it is open, 5th to 95th
    percentile over the samples.
    """
    sampled = draws(parameters or default_parameters(), full=False)
    bare = {route: _leaving(plant.traits, (), route, sampled) for route in ROUTES}
    return tuple(_effect(plant.traits, measure, bare, sampled) for measure in measures)


def _effect(
    traits: Traits, measure: PlannedMeasure, bare: Mapping[EscapeRoute, Array], sampled: Draws
) -> MeasureEffect:
    shares = []
    for route, without in bare.items():
        if float(without[-1]) <= 0.0:
            continue
        taken = 1.0 - _leaving(traits, (measure,), route, sampled) / np.maximum(without, 1e-12)
        low, high = np.quantile(taken[: sampled.count], (0.05, 0.95)).tolist()
        shares.append(RouteShare(route, max(0.0, low), min(1.0, max(0.0, high))))
    return MeasureEffect(measure.kind, tuple(shares), _words(shares))


def _leaving(
    traits: Traits, measures: tuple[PlannedMeasure, ...], route: EscapeRoute, sampled: Draws
) -> Array:
    missed = sampled.known(1.0)
    for propagule in made(traits):
        left = residual_of_all(measures, traits, route, propagule, sampled)
        missed = missed * (1.0 - shed(traits, route, propagule, sampled) * left)
    return 1.0 - missed


def _words(shares: Sequence[RouteShare]) -> str:
    """``outlet losses: 60 to 95% less; birds and visitors: unchanged``."""
    acting = [one for one in shares if one.high > _NOTHING]
    idle = [ROUTE_NAMES[one.route].removeprefix("the ") for one in shares if one.high <= _NOTHING]
    parts = [
        f"losses by {ROUTE_NAMES[one.route]}: {_percents(one.low, one.high)} less" for one in acting
    ]
    if idle:
        parts.append(f"{', '.join(idle)}: unchanged")
    return "; ".join(parts)


def _percents(low: float, high: float) -> str:
    first, last = round(low * 100), round(high * 100)
    return f"{last}%" if first == last else f"{first} to {last}%"
