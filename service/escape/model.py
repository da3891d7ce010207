"""One run of the chain leaves x arrives x persists for a plant in a setting, row by row."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.escape.arrives import any_of
from service.escape.climate import WinterRows, season, warm_end, winter
from service.escape.draws import DRAWS, NINETY_FIFTH, Array, Draws
from service.escape.habitat import habitat
from service.escape.history import lasting
from service.escape.leaves import made
from service.escape.origin import native_share
from service.escape.setting import Setting
from service.escape.spread import Spread, spread
from service.escape.values import PlannedMeasure
from service.values.plants import Plant, Traits


@dataclass(frozen=True, eq=False)
class Climatic:
    """What the site decides, (rows,) each."""

    winter: WinterRows
    warm: Array
    season: Array

    @property
    def fit(self) -> Array:
        """All three."""
        return self.winter.persists * self.warm * self.season


@dataclass(frozen=True, eq=False)
class Outcome:
    """The rows of one run.

    Attributes:
        setting: the one that the rows belong to.
        spread: what leaves and where it comes.
        founding, lasting: (rows,).
        habitats: (kinds, rows), of each kind of water with its flow.
        kinds: (waters,), which of them each water is.
        lift: how far records lift the fit of climate and habitat.
    """

    plant: Plant
    setting: Setting
    spread: Spread
    climatic: Climatic
    founding: Array
    lasting: Array
    habitats: Array
    kinds: NDArray[np.intp]
    lift: float

    def persists(self, lift: float = 0.0) -> Array:
        """By kind of water, (kinds, rows)."""
        return self.shared(lift) * _lifted(self.habitats, lift)

    def shared(self, lift: float = 0.0, *, through_winter: bool = True) -> Array:
        """What is the same for every water, (rows,)."""
        fit = self.climatic.fit if through_winter else self.climatic.warm * self.climatic.season
        return _lifted(fit, lift) * self.founding * self.lasting

    def by_water(self, lift: float = 0.0) -> Array:
        """Leaves, arrives and persists; (waters, rows)."""
        found: Array = self.spread.arrives * self.persists(lift)[self.kinds]
        return found

    def overall(self, lift: float = 0.0, *, through_winter: bool = True) -> Array:
        """To any of the waters, (rows,).

        What is the same for every water - the plant lives through the winters there, founds and
        lasts - holds for all or for none, so it is taken out first: noisy-or over waters of what is
        left, times the shared chance. Never more than the chance that anything leaves at all.
        """
        shared = self.shared(lift, through_winter=through_winter)
        found: Array = np.minimum(shared * self._there(lift), self.spread.leaves)
        return found

    def _there(self, lift: float) -> Array:
        """Comes to any water that suits it, (rows,)."""
        given = self.spread.arrives * _lifted(self.habitats, lift)[self.kinds]
        np.subtract(1.0, given, out=given)
        missed: Array = np.multiply.reduce(given, axis=0)
        return 1.0 - missed


def _lifted(fit: Array, lift: float) -> Array:
    """Fit moved toward the best that it may well be for the plant, by a record of it.

    The best is the 95th percentile over the draws, so that a record of a plant that cannot live
    through the winters there makes little of itself: it was planted, or it is one summer's.
    """
    if lift == 0.0:
        return fit
    best = np.partition(fit[..., :DRAWS], NINETY_FIFTH)[..., NINETY_FIFTH, np.newaxis]
    found: Array = fit + lift * np.maximum(best - fit, 0.0)
    return found


def run(
    plant: Plant, setting: Setting, measures: tuple[PlannedMeasure, ...] = (), lift: float = 0.0
) -> Outcome:
    """The chain for one plant, with what is planned to keep it in."""
    draws, traits = setting.draws, plant.traits
    habitats, kinds = _habitats(traits, setting)
    return Outcome(
        plant=plant,
        setting=setting,
        spread=spread(traits, measures, setting),
        climatic=_climatic(traits, setting),
        founding=founding(traits, draws),
        lasting=lasting(traits, native_share(plant, setting.state, draws), draws),
        habitats=habitats,
        kinds=kinds,
        lift=lift,
    )


def _climatic(traits: Traits, setting: Setting) -> Climatic:
    climate, draws = setting.climate, setting.draws
    return Climatic(
        winter(traits, climate, draws),
        warm_end(traits.zone_max, climate, draws),
        season(climate.first_frost, draws),
    )


def founding(traits: Traits, draws: Draws) -> Array:
    """At least one of the plant's propagules founds a stand; another one never lowers it."""
    pieces = made(traits)
    if not pieces:
        return draws.known(0.0)
    key = ("founding", pieces)
    return draws.kept.of(key, lambda: any_of([draws.of(f"founding.{piece}") for piece in pieces]))


def _habitats(traits: Traits, setting: Setting) -> tuple[Array, NDArray[np.intp]]:
    """Of each kind of water with its flow, and which of them each water is."""
    kinds, numbers = setting.kinds
    return np.stack([habitat(traits, *kind, setting.draws) for kind in kinds]), numbers
