"""Habitat: does a water of this kind and flow suit the plant.

Deeper water never lowers the match, for every water has an edge; a flow further from what the plant
is grown in never raises it. Every function gives one value a row of the draws.
"""

from collections.abc import Callable, Iterable
from typing import get_args

import numpy as np

from service.escape.draws import Array, Draws
from service.values.plants import Traits
from service.values.vocabulary import Flow, GrowthForm, WaterKind

_FLOWS: tuple[Flow, ...] = get_args(Flow)
_KINDS: tuple[WaterKind, ...] = get_args(WaterKind)
_STEPS = ("same", "one-step", "two-steps")


def habitat(traits: Traits, kind: WaterKind | None, flow: Flow | None, draws: Draws) -> Array:
    """The product of depth, flow, light and room; a kind or flow of None is any."""
    needed = traits.depth_cm.low if traits.depth_cm else None
    form, keep = traits.growth_form, draws.kept.of
    depth = keep(("depth", needed, form, kind), lambda: depth_match(traits, kind, draws))
    current = keep(("flow", traits.flow, flow), lambda: flow_match(traits.flow, flow, draws))
    light = keep(("light", traits.light, kind), lambda: light_match(traits, kind, draws))
    found: Array = depth * current
    found *= light
    found *= keep(("room", form, kind), lambda: room(form, kind, draws))
    return found


def depth_match(traits: Traits, kind: WaterKind | None, draws: Draws) -> Array:
    """Depth near the shore against the least depth the plant needs."""
    if traits.growth_form == "free-floating":
        return draws.known(1.0)
    low, high = draws.parameters.span("habitat.unknown_depth.least")
    if traits.depth_cm is None:
        needed = draws.ranged("plant.depth_cm", high, low)
    else:
        needed = draws.known(max(0.0, traits.depth_cm.low))
    found = _of_kind(lambda one: draws.of(f"habitat.depth.{one}"), kind, draws)
    return np.minimum(1.0, found / np.maximum(needed, 1e-9))


def flow_match(grown_in: tuple[Flow, ...], flow: Flow | None, draws: Draws) -> Array:
    """Flow of the water against the nearest flow that the plant is grown in."""
    if not grown_in:
        return draws.any_of("plant.flow", [draws.of(f"habitat.flow.{step}") for step in _STEPS])
    steps = [
        min(abs(_FLOWS.index(there) - _FLOWS.index(one)) for one in grown_in)
        for there in ((flow,) if flow else _FLOWS)
    ]
    return draws.any_of("water.flow", [draws.of(f"habitat.flow.{_STEPS[step]}") for step in steps])


def light_match(traits: Traits, kind: WaterKind | None, draws: Draws) -> Array:
    """Light over such waters against the light that the plant takes."""
    sun, shade = "sun" in traits.light, bool({"part-shade", "shade"} & set(traits.light))
    either = draws.of("habitat.any_light.match")
    if sun and shade:
        return either
    groups: Iterable[str] = (
        ("open_light",) if sun else ("shade",) if shade else ("open_light", "shade")
    )
    found = [
        _of_kind(lambda one, group=group: draws.of(f"habitat.{group}.{one}"), kind, draws)  # type: ignore[misc]
        for group in groups
    ]
    return draws.any_of("plant.light", found if sun or shade else [*found, either])


def room(form: GrowthForm | None, kind: WaterKind | None, draws: Draws) -> Array:
    """Room in such waters for a plant of this growth form."""
    forms: tuple[GrowthForm, ...] = (form,) if form else get_args(GrowthForm)
    found = [
        _of_kind(lambda there, one=one: draws.of(f"habitat.form.{one}.{there}"), kind, draws)  # type: ignore[misc]
        for one in forms
    ]
    return draws.any_of("plant.growth_form", found)


def _of_kind(of: Callable[[WaterKind], Array], kind: WaterKind | None, draws: Draws) -> Array:
    """For a water that no map shows, of any kind."""
    if kind is not None:
        return of(kind)
    return draws.any_of("water.kind", [of(one) for one in _KINDS])
