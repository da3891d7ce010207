"""One run of the chain for a plant in a setting, from values to arrays and back."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from service.escape import chain
from service.escape.establish import habitat_interval, plant_interval
from service.escape.interval import Interval
from service.escape.posterior import Looks, looks_at
from service.escape.release import Array, carried
from service.escape.setting import Setting
from service.escape.values import PlannedMeasure
from service.values.evidence import Evidence
from service.values.plants import Plant


@dataclass(frozen=True, slots=True)
class Case:
    """A plant in a setting, with what is planned to hold it and the looks taken at every water."""

    plant: Plant
    setting: Setting
    measures: tuple[PlannedMeasure, ...]
    looks: tuple[Looks, ...]


@dataclass(frozen=True, slots=True)
class Inputs:
    """The arrays of one case; the first axis is low and high.

    Attributes:
        carried: (2, routes, propagules).
        of_plant: (2,), the establish factors that are the same for every water.
        of_water: (2, waters), those that are not.
        arriving: (2, waters, routes), given an open way out.
        leaving: (2, routes), given an open way out.
        looks: taken and found, each (waters,).
    """

    case: Case
    carried: Array
    of_plant: Array
    of_water: Array
    arriving: Array
    leaving: Array
    looks: tuple[Array, Array]


@dataclass(frozen=True, slots=True)
class Outcome:
    """The result of one run; the first axis is low and high.

    Attributes:
        arrives: (2, waters), something comes to the water.
        established: (2, waters), after the records.
        by_water: (2, waters).
        released: (2,), anything leaves by any way.
        overall: (2,).
    """

    arrives: Array
    established: Array
    by_water: Array
    released: Array
    overall: Array


def case_of(
    plant: Plant, setting: Setting, measures: tuple[PlannedMeasure, ...], evidence: Evidence | None
) -> Case:
    """A case with the looks that the evidence holds for each water."""
    return Case(plant, setting, measures, looks_at(setting.water_ids, evidence, setting.parameters))


def inputs_of(case: Case, like: Inputs | None = None) -> Inputs:
    """Arrays of a case. What it has in common with ``like`` is taken from there."""
    setting, traits, parameters = case.setting, case.plant.traits, case.setting.parameters
    same_plant = like is not None and like.case.plant is case.plant
    if like is not None and same_plant:
        away, of_water = like.carried, like.of_water
    else:
        away, of_water = carried(traits, case.measures, parameters), _of_water(case)
    if like is not None and same_plant and like.case.setting.climate == setting.climate:
        of_plant = like.of_plant
    else:
        of_plant = _pair(plant_interval(traits, setting.climate, parameters))
    then = like.case.setting if like is not None else None
    if (
        like is not None
        and then is not None
        and same_plant
        and then.reach is setting.reach
        and _same_stand(then, setting)
    ):
        arriving, leaving = like.arriving, like.leaving
    else:
        arriving = chain.arriving(away, setting.stand, setting.reach)
        leaving = chain.leaving(away, setting.stand)
    looks = (
        like.looks
        if like is not None and like.case.looks is case.looks
        else chain.looks_arrays(list(case.looks))
    )
    return Inputs(case, away, of_plant, of_water, arriving, leaving, looks)


def _same_stand(one: Setting, other: Setting) -> bool:
    return one.stand_size == other.stand_size


def run(inputs: Inputs) -> Outcome:
    """The chain, from its inputs to the chance for each water and for any of them."""
    return run_all([inputs])[0]


def run_all(several: Sequence[Inputs]) -> list[Outcome]:
    """Several runs, in the order given; those that differ in openings and climate alone go
    through together.
    """
    together: dict[tuple[int, ...], list[int]] = {}
    for number, inputs in enumerate(several):
        key = (id(inputs.arriving), id(inputs.leaving), id(inputs.of_water), id(inputs.looks))
        together.setdefault(key, []).append(number)
    outcomes: dict[int, Outcome] = {}
    for numbers in together.values():
        outcomes.update(zip(numbers, _run([several[number] for number in numbers]), strict=True))
    return [outcomes[number] for number in range(len(several))]


def _run(alike: Sequence[Inputs]) -> Iterator[Outcome]:
    first = alike[0]
    weight = first.case.setting.parameters.value("evidence.prior.weight")
    opening = np.stack([inputs.case.setting.opening for inputs in alike])
    of_plant = np.stack([inputs.of_plant for inputs in alike])
    established = chain.established(of_plant[..., np.newaxis] * first.of_water, first.looks, weight)
    arrives = chain.either_route(opening, first.arriving)
    by_water = arrives * established
    released = chain.either_route(opening.max(axis=-2), first.leaving)
    shared = chain.established(of_plant[..., np.newaxis], first.looks, weight).max(axis=-1)
    overall = chain.to_any(by_water, shared, released)
    for n in range(len(alike)):
        yield Outcome(arrives[n], established[n], by_water[n], released[n], overall[n])


def _of_water(case: Case) -> Array:
    traits, parameters = case.plant.traits, case.setting.parameters
    if not case.setting.waters:
        return _pair(habitat_interval(traits, None, None, (), parameters))[:, np.newaxis]
    known: dict[tuple[object, ...], Interval] = {}
    ends = []
    for reached in case.setting.waters:
        water = reached.water
        key = (water.kind, water.flow, water.states)
        if key not in known:
            known[key] = habitat_interval(traits, water.kind, water.flow, water.states, parameters)
        ends.append((known[key].low, known[key].high))
    return np.array(ends).T


def _pair(interval: Interval) -> Array:
    return np.array((interval.low, interval.high))
