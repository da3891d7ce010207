"""Habitat: does a water of this kind and flow suit the plant, and how freely does the plant spread
where it lies.

Deeper water never lowers the match, for every water has an edge; a flow further from what the plant
is grown in never raises it.
"""

from collections.abc import Iterable
from functools import lru_cache
from typing import get_args

from service.escape.interval import CERTAIN, Interval, union
from service.escape.parameters import Parameters
from service.values.plants import Traits
from service.values.regions import regions_of
from service.values.vocabulary import Flow, GrowthForm, Jurisdiction, WaterKind

_FLOWS: tuple[Flow, ...] = get_args(Flow)
_FORMS: tuple[GrowthForm, ...] = get_args(GrowthForm)
_KINDS: tuple[WaterKind, ...] = get_args(WaterKind)
_STEPS = ("same", "one-step", "two-steps")


@lru_cache(maxsize=8192)
def depth_match(traits: Traits, kind: WaterKind | None, parameters: Parameters) -> Interval:
    """Depth near the shore against the least depth the plant needs."""
    if traits.growth_form == "free-floating":
        return CERTAIN
    if traits.depth_cm is None:
        need_low, need_high = parameters.span("habitat.unknown_depth.least")
    else:
        need_low = need_high = max(0.0, traits.depth_cm.low)
    found = [parameters.span(f"habitat.depth.{one}") for one in _kinds(kind)]
    low, high = min(span[0] for span in found), max(span[1] for span in found)
    match = Interval(_share(low, need_high), _share(high, need_low))
    return match if traits.growth_form else match | CERTAIN


def _share(found_cm: float, needed_cm: float) -> float:
    return 1.0 if needed_cm <= found_cm else found_cm / needed_cm


@lru_cache(maxsize=8192)
def flow_match(grown_in: tuple[Flow, ...], flow: Flow | None, parameters: Parameters) -> Interval:
    """Flow of the water against the nearest flow that the plant is grown in."""
    steps = {
        min(abs(_FLOWS.index(there) - _FLOWS.index(one)) for one in grown_in) if grown_in else step
        for there in ((flow,) if flow else _FLOWS)
        for step in range(len(_STEPS))
    }
    return union(parameters.interval(f"habitat.flow.{_STEPS[step]}") for step in steps)


@lru_cache(maxsize=8192)
def light_match(traits: Traits, kind: WaterKind | None, parameters: Parameters) -> Interval:
    """Light over such waters against the light that the plant takes."""
    sun, shade = "sun" in traits.light, bool({"part-shade", "shade"} & set(traits.light))
    groups: Iterable[str]
    if sun and shade:
        return parameters.interval("habitat.any_light.match")
    groups = ("open_light",) if sun else ("shade",) if shade else ("open_light", "shade")
    found = union(
        parameters.interval(f"habitat.{group}.{one}") for group in groups for one in _kinds(kind)
    )
    return found if sun or shade else found | parameters.interval("habitat.any_light.match")


@lru_cache(maxsize=8192)
def room(form: GrowthForm | None, kind: WaterKind | None, parameters: Parameters) -> Interval:
    """Room in such waters for a plant of this growth form."""
    forms = (form,) if form else _FORMS
    return union(
        parameters.interval(f"habitat.form.{one}.{there}")
        for one in forms
        for there in _kinds(kind)
    )


def _kinds(kind: WaterKind | None) -> tuple[WaterKind, ...]:
    return (kind,) if kind else _KINDS


@lru_cache(maxsize=8192)
def origin(traits: Traits, states: tuple[Jurisdiction, ...], parameters: Parameters) -> Interval:
    """How freely the plant spreads there, by where it is native.

    Native status is held to a region, so a water in a state of the region counts as home.
    """
    native = traits.native_north_america
    keys = {
        "no": ("introduced",),
        "part": ("part",),
        "yes": _homes(traits, states),
        None: ("native-here", "native-elsewhere", "part", "introduced"),
    }[native]
    return union(parameters.interval(f"origin.{key}") for key in keys)


def _homes(traits: Traits, states: tuple[Jurisdiction, ...]) -> tuple[str, ...]:
    regions = regions_of(states)
    if not regions or not traits.native_regions:
        return ("native-here", "native-elsewhere")
    home = regions & set(traits.native_regions)
    if home == regions:
        return ("native-here",)
    return ("native-here", "native-elsewhere") if home else ("native-elsewhere",)
