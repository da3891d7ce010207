"""Chances alone: of many plants at many sites, without the factors, words and comparisons of an
``Assessment``, and equal to its figures.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.escape.assessment import checked
from service.escape.classes import escape_class
from service.escape.draws import Array, Draws
from service.escape.figures import Covering, Figures, covering_all, figures_of
from service.escape.parameters import Parameters, default_parameters
from service.escape.percentiles import as_estimates, percentiles, with_records
from service.escape.setting import UNMAPPED, UNMAPPED_NAME, setting
from service.escape.values import PlannedMeasure, ScreenedEscape, ScreenedWater
from service.values.evidence import ABSENT, Presence
from service.values.plants import Plant
from service.values.site import Climate, Place, Reached
from service.values.vocabulary import Jurisdiction, PlantId


@dataclass(frozen=True, eq=False)
class SiteChances:
    """Figures of the plants of one site.

    Attributes:
        figures: (5, 1 + waters) by plant: to any of the waters, then to each.
        native: plants that are native to the state of the site.
    """

    waters: tuple[Reached, ...]
    parameters: Parameters
    figures: Mapping[PlantId, Array]
    native: frozenset[PlantId]

    def of(self, plants: Sequence[Plant]) -> ScreenedEscape:
        """Of any of several plants that a label may mean; every figure covers all of them."""
        several = [self.figures[plant.plant_id] for plant in plants]
        figures = several[0] if len(several) == 1 else covering_all(several)
        whole, *by_water = as_estimates(figures)
        native = all(plant.plant_id in self.native for plant in plants)
        named = [(there.water.water_id, there.water.name) for there in self.waters]
        waters = zip(named or [(UNMAPPED, UNMAPPED_NAME)], by_water, strict=True)
        klass = None if native else escape_class(whole, self.parameters)
        screened = tuple(ScreenedWater(*water, chance) for water, chance in waters)
        return ScreenedEscape(whole, klass, screened)


def screen(
    plants: Sequence[Plant],
    places: Sequence[Place],
    climate: Climate,
    waters: Sequence[Reached],
    presence: Mapping[PlantId, Presence],
    *,
    state: Jurisdiction | None = None,
    containment: Sequence[PlannedMeasure] = (),
    parameters: Parameters | None = None,
) -> SiteChances:
    """Would each plant get out of a site.

    Args:
        places: all that the site may be; the figures cover each of them.

    Raises:
        UnknownValue: the climate names no hardiness zone that exists.
        BadRequest: a quantity of a place, the climate or waters is impossible.
    """
    known, measures = parameters or default_parameters(), tuple(containment)
    several: list[list[Figures | Covering]] = [[] for _ in plants]
    for place in places:
        checked(place, climate, waters)
        there = setting(place, climate, waters, state, known)
        for plant, of_plant in zip(plants, several, strict=True):
            near = presence.get(plant.plant_id, ABSENT)
            of_plant.append(figures_of(plant, there, measures, None, near))
    every = [Covering(of_plant) if len(of_plant) > 1 else of_plant[0] for of_plant in several]
    table = _percentiles(list(_parts(every)))
    by_plant = dict(zip((plant.plant_id for plant in plants), every, strict=True))
    return SiteChances(
        tuple(waters),
        known,
        {plant_id: _of(one, table) for plant_id, one in by_plant.items()},
        frozenset(plant_id for plant_id, one in by_plant.items() if _native(one)),
    )


def _native(one: Figures | Covering) -> bool:
    return all(figures.native for figures in one.every)


def _parts(several: Sequence[Figures | Covering]) -> Iterator[Figures]:
    for one in several:
        if isinstance(one, Figures):
            yield one
        else:
            yield from _parts(one.several)
            yield from one.extremes


def _of(one: Figures | Covering, table: Mapping[Figures, Array]) -> Array:
    return table[one] if isinstance(one, Figures) else one.covered(lambda part: _of(part, table))


def _percentiles(parts: Sequence[Figures]) -> dict[Figures, Array]:
    """To any of the waters and to each, of all that share their draws at once."""
    by_draws: dict[Draws, list[Figures]] = {}
    for part in parts:
        by_draws.setdefault(part.outcome.setting.draws, []).append(part)
    found: dict[Figures, Array] = {}
    for draws, of_draws in by_draws.items():
        lifted = [part for part in of_draws if part.outcome.lift]
        columns = [row for part in of_draws for row in (part.overall, part.outcome.by_water())]
        for part in lifted:
            outcome = part.outcome
            columns += [outcome.overall(outcome.lift), outcome.by_water(outcome.lift)]
        figures = percentiles(columns, draws)
        each = np.split(figures, len(of_draws) + len(lifted), axis=1)
        found.update(zip(of_draws, each, strict=False))
        for part, raised in zip(lifted, each[len(of_draws) :], strict=True):
            found[part] = with_records(found[part], raised)
    return found
