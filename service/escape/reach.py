"""Reach: what has left the place comes to a water.

By water along the flow network where one leads there, by sheet flow of storm and flood water over
the ground, by creeping over the bank, or carried by birds, beasts and people. A longer way never
raises reach, nor does a lake passed; a longer travel scale never lowers it.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from service.escape.parameters import Parameters
from service.escape.release import PROPAGULES, ROUTES, WATERBORNE, Array
from service.values.waters import Reached

OUTLET, OVERFLOW, FLOOD, BANK, CARRIED = (ROUTES.index(route) for route in ROUTES)


def network_loaded(waters: Sequence[Reached]) -> bool:
    """Whether a flow network says of some water that it lies up- or downstream, and so of the
    others that they do not.
    """
    return any(reached.relation in ("upstream", "downstream") for reached in waters)


@lru_cache(maxsize=8192)
def reach(water: Reached, network: bool, parameters: Parameters) -> Array:
    """Chance that each propagule which left by each way out comes to the water.

    Args:
        network: whether a flow network is loaded; without one a near water may or may not lie
            downstream.

    Returns:
        shape (2, routes, propagules), low and high.
    """
    if water.relation == "contains":
        table = np.ones((2, len(ROUTES), len(PROPAGULES)))
    elif water.relation == "downstream":
        table = _downstream(water, parameters)
    else:
        table = _overland(water, parameters)
        if water.relation == "near" and not network:
            table = _either(table, _downstream(water, parameters))
    table.setflags(write=False)
    return table


@lru_cache(maxsize=64)
def unmapped_reach(parameters: Parameters) -> Array:
    """For a water that no map shows: it may be anywhere, or nowhere."""
    table = np.zeros((2, len(ROUTES), len(PROPAGULES)))
    table[1] = 1.0
    table.setflags(write=False)
    return table


def _overland(water: Reached, parameters: Parameters) -> Array:
    distance_m = water.overland_m
    table = np.zeros((2, len(ROUTES), len(PROPAGULES)))
    for route, key in ((OVERFLOW, "reach.sheet.overflow"), (FLOOD, "reach.sheet.flood")):
        table[:, route, :] = _kernel(distance_m, np.array(parameters.span(key)))[:, np.newaxis]
    table[:, BANK, :] = _kernel(distance_m, _scales("reach.creep", parameters))
    table[:, CARRIED, :] = _kernel(distance_m, _scales("reach.carried", parameters))
    return table


def _downstream(water: Reached, parameters: Parameters) -> Array:
    table = _overland(water, parameters)
    known = water.along_m is not None and water.relation == "downstream"
    distance_m = water.along_m if water.along_m is not None and known else water.overland_m
    drift = _kernel(distance_m, _scales("reach.drift", parameters))
    drift *= (np.array(parameters.span("reach.still_water.passed")) ** water.lakes_passed)[
        :, np.newaxis
    ]
    if not known:
        drift[0] = (
            0.0  # the way by water is at least as long as the straight line, and may be any longer
        )
    for route in WATERBORNE:
        r = ROUTES.index(route)
        table[:, r, :] = np.maximum(table[:, r, :], drift)
    return table


def _either(one: Array, other: Array) -> Array:
    return np.stack((np.minimum(one[0], other[0]), np.maximum(one[1], other[1])))


def _kernel(distance_m: float, scale_m: Array) -> Array:
    """Share still under way after ``distance_m``: exp(-distance / scale)."""
    share: Array = np.exp(-distance_m / scale_m)
    return share


@lru_cache(maxsize=64)
def _scales(group: str, parameters: Parameters) -> Array:
    """Shape (2, propagules), metres."""
    return np.array([parameters.span(f"{group}.{propagule}") for propagule in PROPAGULES]).T
