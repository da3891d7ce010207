"""Release: is a way out open, and does a living piece leave by it, after the containment planned.

More open ways, more ways of spreading, a larger stand: none ever lowers release. No measure ever
    raises it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from service.escape.interval import CERTAIN, IMPOSSIBLE, Interval, product, union
from service.escape.parameters import Parameters
from service.escape.values import PlannedMeasure, Propagule
from service.values.plants import Traits
from service.values.site import ExitRoute, Place
from service.values.vocabulary import SpreadMode

Array = NDArray[np.float64]

ROUTES: tuple[ExitRoute, ...] = get_args(ExitRoute)
PROPAGULES: tuple[Propagule, ...] = (*get_args(SpreadMode), "whole-plant")
WATERBORNE: tuple[ExitRoute, ...] = ("outlet", "overflow", "flood")


@dataclass(frozen=True, slots=True)
class Opening:
    """How open one way out is.

    Attributes:
        value: the fact it rests on, None where nobody has said.
        unit: of the value.
    """

    value: str | float | bool | None
    unit: str
    interval: Interval
    coefficient: str


@lru_cache(maxsize=512)
def openings(place: Place, parameters: Parameters) -> Mapping[ExitRoute, Opening]:
    """Each way out of a place, as a chance that it is open at some time in ten years."""
    chance = {
        key: parameters.interval(f"open.chance.{key}")
        for key in parameters.keys_under("open.chance")
    }
    in_stream = place.kind == "stream"
    return {
        "outlet": _outlet(place, chance["closed"], parameters),
        "overflow": Opening(
            place.overflow,
            "",
            _either(place.overflow, chance["storm"], chance["closed"]),
            "open.chance.storm",
        ),
        "flood": Opening(
            place.flood_prone,
            "",
            _either(place.flood_prone, chance["flood"], chance["closed"]),
            "open.chance.flood",
        ),
        "bank": Opening("in a stream", "", CERTAIN, "open.chance.bank")
        if in_stream
        else _bank(place, chance),
        "birds-and-visitors": Opening(
            place.visited,
            "",
            _either(place.visited, chance["visited"], chance["unvisited"]),
            "open.chance.visited",
        ),
    }


def _either(fact: bool | None, yes: Interval, no: Interval) -> Interval:
    """A yes never gives less than a no; an unanswered question gives all that either may."""
    yes = yes.at_least(no)
    if fact is None:
        return yes | no
    return yes if fact else no


def _outlet(place: Place, closed: Interval, parameters: Parameters) -> Opening:
    if place.kind == "stream":
        return Opening("in a stream", "", CERTAIN, "open.flow.half")
    flow = place.outlet_flow_l_s
    low, high = parameters.span("open.flow_unknown.ordinary") if flow is None else (flow, flow)
    half_low, half_high = parameters.span("open.flow.half")
    running = Interval(low / (low + half_high), high / (high + half_low)).at_least(closed)
    if flow:  # a stated flow leaves, whatever is said of the outlet
        return Opening(flow, "L/s", running, "open.flow.half")
    return Opening(place.outlet, "", _either(place.outlet, running, closed), "open.flow.half")


def _bank(place: Place, chance: Mapping[str, Interval]) -> Opening:
    contact = {
        None: chance["bank"] | chance["lined_bank"],
        False: chance["bank"],
        True: chance["lined_bank"],
    }[place.lined]
    value = place.bank_contact
    return Opening(value, "", _either(value, contact, chance["closed"]), "open.chance.bank")


@lru_cache(maxsize=512)
def stand_size(area_m2: float | None, parameters: Parameters) -> Interval:
    """How reliably a stand of this area sheds: A / (A + half)."""
    low, high = (
        parameters.span("open.area_unknown.ordinary") if area_m2 is None else (area_m2, area_m2)
    )
    half_low, half_high = parameters.span("open.area.half")
    return Interval(low / (low + half_high), high / (high + half_low))


@lru_cache(maxsize=4096)
def presence(traits: Traits) -> Mapping[Propagule, Interval]:
    """Which propagules the plant makes: certain, impossible, or unknown."""
    modes = set(traits.spread_modes)
    unsaid = Interval(0.0, 1.0)
    made: dict[Propagule, Interval] = {}
    for propagule in PROPAGULES:
        if propagule == "whole-plant":
            form = traits.growth_form
            made[propagule] = (
                unsaid if form is None else CERTAIN if form == "free-floating" else IMPOSSIBLE
            )
        else:
            made[propagule] = unsaid if not modes else CERTAIN if propagule in modes else IMPOSSIBLE
    return made


@lru_cache(maxsize=4096)
def carried(traits: Traits, measures: tuple[PlannedMeasure, ...], parameters: Parameters) -> Array:
    """Chance that each propagule leaves by each way out if that is open, containment taken off.

    Returns:
        shape (2, routes, propagules), low and high.
    """
    made = presence(traits)
    table = np.zeros((2, len(ROUTES), len(PROPAGULES)))
    for r, route in enumerate(ROUTES):
        for m, propagule in enumerate(PROPAGULES):
            if made[propagule].high == 0.0:
                continue
            leaves = made[propagule] * parameters.interval(f"carry.{route}.{propagule}")
            leaves *= product(
                residual(measure, traits, route, propagule, parameters) for measure in measures
            )
            table[:, r, m] = leaves.low, leaves.high
    table.setflags(write=False)
    return table


def residual(
    measure: PlannedMeasure,
    traits: Traits,
    route: ExitRoute,
    propagule: Propagule,
    parameters: Parameters,
) -> Interval:
    """What a measure leaves of one propagule on one route; certain where it does nothing."""
    key = _measure_key(measure, route, propagule, parameters)
    if key is None:
        return CERTAIN
    left = parameters.interval(key)
    if measure.kind == "outlet-screen":
        left = _through_screen(left, measure.opening_mm, propagule, parameters)
    if propagule == "fragment" and route in WATERBORNE:
        # Pieces of a submerged plant too small to be held live: nothing planned is credited against
        # them.
        if traits.growth_form == "submerged":
            return CERTAIN
        if traits.growth_form is None:
            return union((left, CERTAIN))
    return left


def _measure_key(
    measure: PlannedMeasure, route: ExitRoute, propagule: Propagule, parameters: Parameters
) -> str | None:
    for place in _places(route):
        for what in (propagule, "all"):
            key = f"measure.{measure.kind}.{place}.{what}"
            if key in parameters.coefficients:
                return key
    return None


def _places(route: ExitRoute) -> Iterable[str]:
    return (route, "all")


def _through_screen(
    left: Interval, opening_mm: float | None, propagule: Propagule, parameters: Parameters
) -> Interval:
    smallest, largest = parameters.span(f"propagule_size.{propagule}")
    if opening_mm is not None and opening_mm <= smallest:
        return left
    if opening_mm is not None and opening_mm >= largest:
        return CERTAIN
    return left | CERTAIN


def applied_measures(
    measures: Sequence[PlannedMeasure], traits: Traits, parameters: Parameters
) -> Iterator[tuple[PlannedMeasure, Interval, str]]:
    """Each measure, what it leaves over all that it acts on, and the key of a coefficient it
    rests on.
    """
    made = presence(traits)
    for measure in measures:
        keys = [
            (_measure_key(measure, route, propagule, parameters), route, propagule)
            for route in ROUTES
            for propagule in PROPAGULES
            if made[propagule].high > 0.0
        ]
        acting = [(key, route, propagule) for key, route, propagule in keys if key is not None]
        left = [
            residual(measure, traits, route, propagule, parameters)
            for _, route, propagule in acting
        ]
        key = (
            acting[0][0]
            if acting
            else next(k for k in parameters.coefficients if f"measure.{measure.kind}." in k)
        )
        yield measure, union(left) if left else CERTAIN, key
