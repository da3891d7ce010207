"""The chain release x reach x establish, on arrays.

Every step is monotone in every input, so the low end of the result comes from all low ends and the
high end from all high ends; the same functions run on samples drawn from the intervals. The last
axes of all arrays are (waters,), (routes,) or (propagules,) as named; leading axes broadcast.
"""

import numpy as np

from service.escape.posterior import Looks
from service.escape.release import Array


def arriving(carried: Array, stand: Array, reach: Array) -> Array:
    """Given an open way out: something leaves by it and comes to the water.

    Noisy-or over propagules.

    Args:
        carried: (..., routes, propagules).
        stand: (...,).
        reach: (..., waters, routes, propagules).

    Returns:
        (..., waters, routes).
    """
    shed = carried * stand[..., np.newaxis, np.newaxis]
    missed: Array = np.multiply.reduce(1.0 - shed[..., np.newaxis, :, :] * reach, axis=-1)
    return 1.0 - missed


def leaving(carried: Array, stand: Array) -> Array:
    """Given an open way out: something leaves by it, wherever it goes. Shape (..., routes)."""
    missed: Array = np.multiply.reduce(1.0 - carried * stand[..., np.newaxis, np.newaxis], axis=-1)
    return 1.0 - missed


def either_route(opening: Array, by_route: Array) -> Array:
    """Noisy-or over routes; the last axis goes."""
    missed: Array = np.multiply.reduce(1.0 - opening * by_route, axis=-1)
    return 1.0 - missed


def established(prior: Array, looks: tuple[Array, Array], prior_weight: float) -> Array:
    """Posterior mean of the establish stage.

    Args:
        prior: (..., waters).
        looks: taken and found, each (waters,).
    """
    taken, found = looks
    posterior: Array = np.minimum(1.0, (prior_weight * prior + found) / (prior_weight + taken))
    return posterior


def looks_arrays(looks: list[Looks]) -> tuple[Array, Array]:
    return np.array([one.taken for one in looks]), np.array([one.found for one in looks])


def to_any(by_water: Array, shared: Array, released: Array) -> Array:
    """Any of the waters.

    What is the same for every water - the plant lives through the winters there, founds and grows -
    either holds for
    all or for none, so it is taken out first: noisy-or over waters of what is left, times the
        shared chance. And
    never more than the chance that anything leaves the place at all.

    Args:
        by_water: (..., waters), each at most ``shared``.
        shared: (...,).
        released: (...,).
    """
    given = np.divide(
        by_water,
        shared[..., np.newaxis],
        out=np.zeros_like(by_water),
        where=shared[..., np.newaxis] > 0,
    )
    missed: Array = np.multiply.reduce(1.0 - np.minimum(1.0, given), axis=-1)
    return np.minimum(shared * (1.0 - missed), released)
