"""What the plant's past and its ways say of whether a founded stand lasts and spreads.

A logistic score over a few terms: for a plant from abroad, in how many regions of a like climate
outside North America it is recorded as alien, of those open to it; in how many regions it is
flagged as invasive; native to North America; height; under water or afloat; and last, for what the
others leave open, how fast growers find it to spread. The weights were fitted on training genera
against listings (``tests/service/escape/fitting.py``). No record elsewhere is not proof that it
stays.
"""

import math
from functools import lru_cache

import numpy as np

from service.escape.draws import Array, Draws
from service.escape.parameters import Parameters
from service.values.plants import Traits
from service.values.vocabulary import SpreadRate

_RATES: dict[SpreadRate, float] = {"slow": 0.0, "moderate": 1.0, "fast": 2.0, "aggressive": 3.0}
_NATIVE = {"yes": 1.0, "part": 0.5, "no": 0.0}
_ALL_OPEN = 110.0
"""Regions of a like climate that are open to a plant which is native to none of them."""
NATIVE_TERM = "native"
_TALLEST_CM = 300.0
"""Height above which more counts no more: trees of wet ground."""


@lru_cache(maxsize=8192)
def terms(traits: Traits) -> dict[str, float]:
    """The terms of a plant by name; those of facts that nobody has given are left out."""
    found = {}
    past, native = traits.history, traits.native_north_america
    if past is not None and native is not None:
        open_regions = max(past.open_regions, past.like_climate_regions, 1)
        regions = past.like_climate_regions * _ALL_OPEN / open_regions
        found["regions"] = math.log1p(regions) * (1.0 - _NATIVE[native])
    if past is not None:
        found["invasive"] = math.log1p(past.invasive_regions)
    if native is not None:
        found[NATIVE_TERM] = _NATIVE[native]
    if traits.height_cm is not None:
        found["height"] = math.log1p(min(traits.height_cm.high, _TALLEST_CM))
    if traits.growth_form is not None:
        found["aquatic"] = float(traits.growth_form in ("submerged", "free-floating"))
    if traits.spread_rate is not None:
        found["rate"] = _RATES[traits.spread_rate]
    return found


@lru_cache(maxsize=8)
def weights(parameters: Parameters) -> dict[str, float]:
    """Weight by term, ``intercept`` with them; in logits a unit of the term."""
    return {
        term: parameters.value(f"history.weight.{term}")
        for term in parameters.keys_under("history.weight")
    }


def lasting(traits: Traits, native_share: Array, draws: Draws) -> Array:
    """Chance that a founded stand lasts and spreads; (rows,).

    Args:
        native_share: how much of being native to the continent counts at the site, 1 all.
    """
    score = draws.of("history.listing.score") + draws.of("history.error.score")
    known = terms(traits)
    for term, weight in weights(draws.parameters).items():
        if term == "intercept":
            score = score + weight
        elif term not in known:
            score = score + _unknown(term, weight, draws)
        elif term == NATIVE_TERM:
            score = score + weight * known[term] * native_share
        else:
            score = score + weight * known[term]
    found: Array = 1.0 / (1.0 + np.exp(-score))
    return found


def _unknown(term: str, weight: float, draws: Draws) -> Array:
    low, high = draws.parameters.span(f"history.range.{term}")
    ends = sorted((weight * low, weight * high))
    return draws.ranged(f"plant.history.{term}", ends[0], ends[1])
