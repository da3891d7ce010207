"""Leaves: is a way out open, and does a living piece leave by it, after the containment planned.

More open ways, more ways of spreading, a larger stand: none ever lowers it. No measure ever raises
it. Every function gives one value a row of the draws (see ``draws``).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import get_args

import numpy as np

from service.escape.draws import Array, Draws
from service.escape.parameters import Parameters
from service.escape.values import PlannedMeasure, Propagule
from service.values.plants import Traits
from service.values.site import EscapeRoute, ExitRoute, Place
from service.values.vocabulary import SpreadMode

ROUTES: tuple[EscapeRoute, ...] = (*get_args(ExitRoute), "surplus")
PROPAGULES: tuple[Propagule, ...] = (*get_args(SpreadMode), "whole-plant")
TRAVELLING: frozenset[SpreadMode] = frozenset({"fragment", "offset", "turion", "bulbil"})
WATERBORNE: tuple[EscapeRoute, ...] = ("outlet", "overflow", "flood")
_SEED_LEFT = {"yes": 0.0, "mostly": 0.1, "some clones": 1.0, "no": 1.0, None: 1.0}
"""What sterility of the clones in cultivation leaves of the chance that seed leaves. Common
practice, no source.
"""


@dataclass(frozen=True, slots=True)
class Opening:
    """How open one way out is.

    Attributes:
        value: the fact it rests on, None where nobody has said.
        unit: of the value.
        chance: (rows,), that it is open at some time in ten years.
        coefficient: key.
    """

    value: str | float | bool | None
    unit: str
    chance: Array
    coefficient: str


def openings(place: Place, draws: Draws) -> Mapping[EscapeRoute, Opening]:
    """Each way out of a place."""
    in_stream = place.kind == "stream"
    certain = draws.known(1.0)
    return {
        "outlet": Opening("in a stream", "", certain, "open.flow.half")
        if in_stream
        else _outlet(place, draws),
        "overflow": _way("overflow", place.overflow, "open.chance.storm", draws),
        "flood": _way("flood_prone", place.flood_prone, "open.chance.flood", draws),
        "bank": Opening("in a stream", "", certain, "open.chance.bank")
        if in_stream
        else _bank(place, draws),
        "birds-and-visitors": _way(
            "visited", place.visited, "open.chance.visited", draws, "open.chance.unvisited"
        ),
        "surplus": _way("surplus", place.surplus, "open.chance.surplus", draws),
    }


def _way(
    fact: str,
    said: bool | None,
    open_key: str,
    draws: Draws,
    closed_key: str = "open.chance.closed",
) -> Opening:
    closed = draws.of(closed_key)
    opened = np.maximum(draws.of(open_key), closed)
    return Opening(said, "", _either(fact, said, opened, closed, draws), open_key)


def _either(fact: str, said: bool | None, yes: Array, no: Array, draws: Draws) -> Array:
    """An unanswered question gives all that either answer may."""
    if said is None:
        return draws.any_of(f"place.{fact}", (no, yes))
    return yes if said else no


def _outlet(place: Place, draws: Draws) -> Opening:
    closed = draws.of("open.chance.closed")
    low, high = draws.parameters.span("open.flow_unknown.ordinary")
    stated = place.outlet_flow_l_s
    flow = (
        draws.ranged("place.outlet_flow_l_s", low, high, logarithmic=True)
        if stated is None
        else draws.known(min(stated, high))
    )
    half = draws.of("open.flow.half")
    running = np.maximum(flow / (flow + half), closed)
    if stated:  # a stated flow leaves, whatever is said of the outlet
        return Opening(stated, "L/s", running, "open.flow.half")
    said = False if stated == 0.0 and place.outlet is None else place.outlet
    return Opening(said, "", _either("outlet", said, running, closed, draws), "open.flow.half")


def _bank(place: Place, draws: Draws) -> Opening:
    open_ground, over_liner = draws.of("open.chance.bank"), draws.of("open.chance.lined_bank")
    if place.lined is None:
        contact = draws.any_of("place.lined", (over_liner, open_ground))
    else:
        contact = over_liner if place.lined else open_ground
    said = place.bank_contact
    closed = draws.of("open.chance.closed")
    chance = _either("bank_contact", said, np.maximum(contact, closed), closed, draws)
    return Opening(said, "", chance, "open.chance.bank")


def stand_size(area_m2: float | None, draws: Draws) -> Array:
    """How reliably a stand of this area sheds: A / (A + half)."""
    low, high = draws.parameters.span("open.area_unknown.ordinary")
    if area_m2 is None:
        area = draws.ranged("place.area_m2", low, high, logarithmic=True)
    else:
        area = draws.known(min(area_m2, high))
    found: Array = area / (area + draws.of("open.area.half"))
    return found


def made(traits: Traits) -> tuple[Propagule, ...]:
    """The propagules that the plant makes, in the order of the vocabulary.

    Where it was measured that pieces leave the mother plant freely, pieces are made even if no
    grower named them.
    """
    modes = set(traits.spread_modes)
    past = traits.history
    if modes and past is not None and past.pieces_travel and not modes & TRAVELLING:
        modes.add("fragment")
    found: list[Propagule] = [
        propagule
        for propagule in PROPAGULES
        if propagule in modes
        or (propagule == "whole-plant" and traits.growth_form == "free-floating")
    ]
    return tuple(found)


def carried(
    traits: Traits, measures: tuple[PlannedMeasure, ...], draws: Draws
) -> Mapping[EscapeRoute, Mapping[Propagule, Array]]:
    """Chance that each propagule leaves by each way out if that is open, containment taken off;
    each (rows,).
    """
    pieces = made(traits)
    return {
        route: {
            propagule: _carried(traits, route, propagule, measures, draws) for propagule in pieces
        }
        for route in ROUTES
    }


def _carried(
    traits: Traits,
    route: EscapeRoute,
    propagule: Propagule,
    measures: tuple[PlannedMeasure, ...],
    draws: Draws,
) -> Array:
    chance = shed(traits, route, propagule, draws)
    if measures:
        chance = chance * residual_of_all(measures, traits, route, propagule, draws)
    return chance


def shed(traits: Traits, route: EscapeRoute, propagule: Propagule, draws: Draws) -> Array:
    """Chance that a propagule leaves by a way out that is open, with nothing planned."""
    chance = draws.of(f"carry.{route}.{propagule}")
    left = seed_left(traits) if propagule == "seed" else 1.0
    return chance if left == 1.0 else chance * left


def seed_left(traits: Traits) -> float:
    """What sterility leaves of the chance that seed leaves."""
    return 1.0 if traits.history is None else _SEED_LEFT[traits.history.sterile]


def residual_of_all(
    measures: Sequence[PlannedMeasure],
    traits: Traits,
    route: EscapeRoute,
    propagule: Propagule,
    draws: Draws,
) -> Array:
    """What all measures together leave of one propagule on one route."""
    left = draws.known(1.0)
    for measure in measures:
        one = residual(measure, traits, route, propagule, draws)
        if one is not None:
            left = left * one
    return left


def residual(
    measure: PlannedMeasure,
    traits: Traits,
    route: EscapeRoute,
    propagule: Propagule,
    draws: Draws,
) -> Array | None:
    """What a measure leaves of one propagule on one route; None where it does nothing."""
    key = measure_key(measure, route, propagule, draws.parameters)
    if key is None:
        return None
    # Pieces of a submerged plant are too small to be kept in, live: nothing planned is credited.
    if propagule == "fragment" and route in WATERBORNE and traits.growth_form == "submerged":
        return None
    left = draws.of(key)
    if measure.kind == "outlet-screen":
        return _through_screen(left, measure.opening_mm, propagule, draws)
    return left


def measure_key(
    measure: PlannedMeasure, route: EscapeRoute, propagule: Propagule, parameters: Parameters
) -> str | None:
    """The coefficient that says what a measure leaves; None where it does nothing."""
    return _measure_key(measure.kind, route, propagule, parameters)


@lru_cache(maxsize=4096)
def _measure_key(
    kind: str, route: EscapeRoute, propagule: Propagule, parameters: Parameters
) -> str | None:
    for place in (route, "all"):
        for what in (propagule, "all"):
            key = f"measure.{kind}.{place}.{what}"
            if key in parameters.coefficients:
                return key
    return None


def _through_screen(
    left: Array, opening_mm: float | None, propagule: Propagule, draws: Draws
) -> Array | None:
    """A screen keeps back the pieces larger than its opening. Where that is not stated, it may be
    any.
    """
    smallest, largest = draws.parameters.span(f"propagule_size.{propagule}")
    if opening_mm is not None and opening_mm >= largest:
        return None
    if opening_mm is not None and opening_mm <= smallest:
        return left
    passes = draws.known(1.0)
    if opening_mm is None:
        return draws.any_of("measure.opening_mm", (left, passes))
    size = draws.of(f"propagule_size.{propagule}")
    return np.where(size >= opening_mm, left, passes)
