"""One run of the chain leaves x arrives x persists for a plant in a setting, row by row."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.escape.arrives import any_of, arriving, leaving
from service.escape.climate import WinterRows, season, warm_end, winter
from service.escape.draws import (
    DRAWS,
    FIFTH,
    MIDDLE,
    NINETY_FIFTH,
    Array,
    Draws,
)
from service.escape.habitat import habitat
from service.escape.history import lasting
from service.escape.interval import Interval
from service.escape.leaves import ROUTES, carried, made
from service.escape.origin import native_share
from service.escape.setting import Setting
from service.escape.values import Estimate, PlannedMeasure, Propagule
from service.values.plants import Plant, Traits
from service.values.site import EscapeRoute
from service.values.vocabulary import Flow, WaterKind


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
        away: chance that each propagule leaves by each way that is open, (rows,).
        leaves_by, leaves: by each route, and by any; (rows,).
        arrives_by: (rows, waters) by route; 1 for a water that the place lies in.
        arrives: (rows, waters), by any route.
        founding, lasting: (rows,).
        habitat: (rows, waters).
        lift: how far records lift the fit of climate and habitat.
    """

    plant: Plant
    setting: Setting
    away: Mapping[EscapeRoute, Mapping[Propagule, Array]]
    leaves_by: Mapping[EscapeRoute, Array]
    leaves: Array
    arrives_by: Mapping[EscapeRoute, Array]
    arrives: Array
    climatic: Climatic
    founding: Array
    lasting: Array
    habitat: Array
    lift: float

    def persists(self, lift: float = 0.0, *, through_winter: bool = True) -> Array:
        """(rows, waters)."""
        return self.shared(lift, through_winter=through_winter)[:, np.newaxis] * _lifted(
            self.habitat, lift
        )

    def shared(self, lift: float = 0.0, *, through_winter: bool = True) -> Array:
        """What is the same for every water, (rows,)."""
        fit = self.climatic.fit if through_winter else self.climatic.warm * self.climatic.season
        return _lifted(fit, lift) * self.founding * self.lasting

    def by_water(self, lift: float = 0.0) -> Array:
        """Leaves, arrives and persists; (rows, waters)."""
        found: Array = self.arrives * self.persists(lift)
        return found

    def overall(self, lift: float = 0.0, *, through_winter: bool = True) -> Array:
        """To any of the waters, (rows,).

        What is the same for every water - the plant lives through the winters there, founds and
        lasts - holds for all or for none, so it is taken out first: noisy-or over waters of what is
        left, times the shared chance. Never more than the chance that anything leaves at all.
        """
        given = self.arrives * _lifted(self.habitat, lift)
        missed = np.multiply.reduce(1.0 - given, axis=1)
        shared = self.shared(lift, through_winter=through_winter)
        found: Array = np.minimum(shared * (1.0 - missed), self.leaves)
        return found


def _lifted(fit: Array, lift: float) -> Array:
    """Fit moved toward the best that it may well be for the plant, by a record of it.

    The best is the 95th percentile over the draws, so that a record of a plant that cannot live
    through the winters there makes little of itself: it was planted, or it is one summer's.
    """
    if lift == 0.0:
        return fit
    best = np.partition(fit[:DRAWS], NINETY_FIFTH, axis=0)[NINETY_FIFTH]
    found: Array = fit + lift * np.maximum(best - fit, 0.0)
    return found


def run(
    plant: Plant, setting: Setting, measures: tuple[PlannedMeasure, ...] = (), lift: float = 0.0
) -> Outcome:
    """The chain for one plant, with what is planned to keep it in."""
    draws, traits = setting.draws, plant.traits
    opening = {route: way.chance for route, way in setting.openings.items()}
    away = carried(traits, measures, draws)
    leaves_by = leaving(opening, away, setting.stand)
    arrives_by = arriving(opening, away, setting.stand, setting.ways)
    inside = setting.within
    leaves = draws.known(1.0) if inside.any() else any_of([leaves_by[route] for route in ROUTES])
    arrives = any_of([arrives_by[route] for route in ROUTES])
    if inside.any():  # what stands in the water itself has left already
        arrives[:, inside] = 1.0
    climate = setting.climate
    return Outcome(
        plant=plant,
        setting=setting,
        away=away,
        leaves_by=leaves_by,
        leaves=leaves,
        arrives_by=arrives_by,
        arrives=arrives,
        climatic=Climatic(
            winter(traits, climate, draws),
            warm_end(traits.zone_max, climate, draws),
            season(climate.first_frost, draws),
        ),
        founding=founding(traits, draws),
        lasting=lasting(traits, native_share(plant, setting.state, draws), draws),
        habitat=_habitats(traits, setting),
        lift=lift,
    )


def founding(traits: Traits, draws: Draws) -> Array:
    """At least one of the plant's propagules founds a stand; another one never lowers it."""
    chances = [draws.of(f"founding.{propagule}") for propagule in made(traits)]
    return any_of(chances) if chances else draws.known(0.0)


def _habitats(traits: Traits, setting: Setting) -> Array:
    known: dict[tuple[WaterKind | None, Flow | None], Array] = {}
    columns = []
    for reached in setting.waters or (None,):
        key = (reached.water.kind, reached.water.flow) if reached else (None, None)
        if key not in known:
            known[key] = habitat(traits, key[0], key[1], setting.draws)
        columns.append(known[key])
    return np.stack(columns, axis=1)


def percentiles(columns: Sequence[Array], draws: Draws) -> Array:
    """The figures of estimates over the rows of each column.

    Args:
        columns: of (rows,), or several side by side as (rows, number).

    Returns:
        (5, columns): likely, low, high, and the two ends of what cannot be excluded.
    """
    rows = np.concatenate([column.T if column.ndim > 1 else column[None] for column in columns])
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
