"""The figures of plants at one place, before any word or factor is written: the chain run once for
each plant, its percentiles, and what covers several plants.

All figures are arrays (5, columns) as ``model.percentiles`` gives them. Columns are: to any water,
the same with winter left out, leaves, then by water the whole chance, arrives and would persist.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import get_args

import numpy as np

from service.escape.draws import Array
from service.escape.leaves import TRAVELLING
from service.escape.model import Outcome, run
from service.escape.origin import native_words
from service.escape.percentiles import percentiles, with_records
from service.escape.records import lift
from service.escape.setting import Setting
from service.escape.values import PlannedMeasure
from service.values.evidence import ABSENT, Evidence, Presence
from service.values.plants import Plant, Traits
from service.values.vocabulary import GrowthForm, SpreadMode

_TYPICAL: tuple[tuple[GrowthForm, tuple[SpreadMode, ...]], ...] = (
    ("submerged", ("fragment",)),
    ("free-floating", ("offset",)),
    ("floating-leaved", ("rhizome", "seed")),
    ("emergent", ("rhizome", "seed")),
    ("wet-soil", ("seed",)),
)
"""What a plant may be of which only the name is known."""


@dataclass(frozen=True, eq=False)
class Figures:
    """One plant, with every trait that the chain needs or its range.

    Attributes:
        native: in words, where the plant is native to the state of the site; else empty.
        overall: (rows,), to any of the waters, without the lift of records.
    """

    outcome: Outcome
    measures: tuple[PlannedMeasure, ...]
    evidence: Evidence | None
    native: str
    overall: Array

    @property
    def worst(self) -> "Figures":
        """Itself: see ``Covering``."""
        return self

    @property
    def every(self) -> "tuple[Figures, ...]":
        """Itself alone: see ``Covering``."""
        return (self,)

    @cached_property
    def whole(self) -> Array:
        """To any of the waters, and the same with winter left out."""
        outcome, draws = self.outcome, self.outcome.setting.draws
        rows = [self.overall, outcome.overall(through_winter=False)]
        if not outcome.lift:
            return percentiles(rows, draws)
        found = percentiles([*rows, outcome.overall(outcome.lift)], draws)
        found[:, 0] = with_records(found[:, 0], found[:, 2])
        return found[:, :2]

    @cached_property
    def unlifted(self) -> Array:
        """Leaves, and by water the whole chance, arrives and would persist, without the lift of
        records.
        """
        outcome = self.outcome
        persists = outcome.persists()
        number = len(outcome.kinds)
        own = percentiles([outcome.by_water(), persists], outcome.setting.draws)
        both = outcome.spread.figures
        of_kinds = own[:, number:][:, outcome.kinds]
        return np.concatenate((both[:, :1], own[:, :number], both[:, 1:], of_kinds), axis=1)

    @cached_property
    def all(self) -> Array:
        """Every column."""
        outcome, found = self.outcome, self.unlifted
        if outcome.lift:
            number, found = len(outcome.kinds), found.copy()
            columns = [outcome.by_water(outcome.lift), outcome.persists(outcome.lift)]
            lifted = percentiles(columns, outcome.setting.draws)
            chance, last = slice(1, 1 + number), slice(1 + 2 * number, None)
            found[:, chance] = with_records(found[:, chance], lifted[:, :number])
            of_kinds = lifted[:, number:][:, outcome.kinds]
            found[:, last] = with_records(found[:, last], of_kinds)
        return np.concatenate((self.whole, found), axis=1)


@dataclass(frozen=True, eq=False)
class Covering:
    """Several plants of which any may be meant, covered by every figure; ``likely`` is that of the
    likeliest.

    Attributes:
        extremes: what the ends are stretched to cover besides; ``likely`` stays.
    """

    several: "Sequence[Figures | Covering]"
    extremes: Sequence[Figures] = ()

    @cached_property
    def worst(self) -> Figures:
        """The plant that is likeliest to escape, whose words and factors are shown."""
        return max(
            self.several,
            key=lambda one: (not one.worst.native, one.whole[0, 0], one.whole[2, 0]),
        ).worst

    @cached_property
    def every(self) -> tuple[Figures, ...]:
        """All plants that may be meant."""
        return tuple(figures for one in self.several for figures in one.every)

    @cached_property
    def whole(self) -> Array:
        """To any of the waters, and the same with winter left out."""
        return self.covered(lambda one: one.whole)

    @cached_property
    def all(self) -> Array:
        """Every column."""
        return self.covered(lambda one: one.all)

    def covered(self, of: "Callable[[Figures | Covering], Array]") -> Array:
        """Some columns of all of them as one."""
        found = covering_all([of(one) for one in self.several])
        if self.extremes:
            likely = found[0]
            found = covering_all([found, *(of(one) for one in self.extremes)])
            found[0] = likely
        return found


def covering_all(several: Sequence[Array]) -> Array:
    """Figures that cover several of the same columns; as likely as the likeliest."""
    stack = np.stack(several)
    most, least = stack.max(axis=0), stack.min(axis=0)
    return np.stack((most[0], least[1], most[2], least[3], most[4]))


def figures_of(
    plant: Plant,
    base: Setting,
    measures: tuple[PlannedMeasure, ...],
    evidence: Evidence | None,
    presence: Presence = ABSENT,
) -> Figures | Covering:
    """Figures of a plant; covering all that it may be where its form or its ways of spreading are
    not known.

    Args:
        presence: stands for the evidence where that is not wanted for itself.
    """
    if evidence is not None and evidence.loaded:
        presence = evidence.presence
    forms, extremes = (
        [_figures(form, base, measures, evidence, presence) for form in several]
        for several in (_forms(plant), _extremes(plant))
    )
    return forms[0] if len(forms) == 1 and not extremes else Covering(forms, extremes)


def _figures(
    plant: Plant,
    base: Setting,
    measures: tuple[PlannedMeasure, ...],
    evidence: Evidence | None,
    presence: Presence,
) -> Figures:
    there = base.for_plant(plant.traits)
    native = native_words(plant, there.state)
    raised = 0.0 if native else lift(presence, there.parameters)
    outcome = run(plant, there, measures, raised)
    return Figures(outcome, measures, evidence, native, outcome.overall())


def _forms(plant: Plant) -> list[Plant]:
    """The plant; or what it may be, where its form or its ways of spreading are not known."""
    traits = plant.traits
    if traits.growth_form is not None and traits.spread_modes:
        return [plant]
    return [
        replace(plant, traits=_completed(traits, form, modes))
        for form, modes in _TYPICAL
        if traits.growth_form in (None, form)
    ]


def _extremes(plant: Plant) -> list[Plant]:
    """Of a plant whose ways of spreading are not known: with none of them, and with all. Of one
    whose pieces were never watched: with pieces that travel, for they may.
    """
    modes = plant.traits.spread_modes
    if modes:
        if plant.traits.history is not None or TRAVELLING & set(modes):
            return []
        return [replace(plant, traits=replace(plant.traits, spread_modes=(*modes, "fragment")))]
    every: tuple[SpreadMode, ...] = get_args(SpreadMode)
    return [
        replace(form, traits=replace(form.traits, spread_modes=modes))
        for form in _forms(plant)
        for modes in ((), every)
    ]


def _completed(traits: Traits, form: GrowthForm, modes: tuple[SpreadMode, ...]) -> Traits:
    return replace(traits, growth_form=form, spread_modes=traits.spread_modes or modes)
