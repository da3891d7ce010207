"""The standard sites at which the plants of the catalogue are compared, and the score of a plant
there.

The site is invented: an open garden pond with every common way out, one brook, one lake and one
    marsh in reach, the
same in every zone, so that plants differ by their traits and by the winter alone. No occurrence
records are given.
"""

from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

from service.escape.interval import Interval
from service.escape.model import case_of, inputs_of, run
from service.escape.parameters import Parameters
from service.escape.setting import setting, to_interval
from service.values.plants import Plant
from service.values.site import Climate, Place
from service.values.vocabulary import WaterId, WaterKind
from service.values.waters import Reached, Relation, Water

ZONES = ("4b", "6b", "9a", "10b")
"""Cold, middle and warm winters of the conterminous states, and the frost-free edge."""

Trait = Literal["spread_rate", "native_north_america"]

PLACE = Place(
    name="standard pond",
    kind="pond",
    area_m2=30.0,
    outlet=True,
    outlet_flow_l_s=1.0,
    overflow=True,
    flood_prone=False,
    bank_contact=True,
    lined=False,
    visited=True,
)


def _reached(
    name: str, kind: WaterKind, relation: Relation, overland_m: float, along_m: float | None = None
) -> Reached:
    water = Water(WaterId(name), name, kind, "slow" if kind == "stream" else "still", -83.0, 40.0)
    return Reached(water, relation, overland_m, along_m)


WATERS = (
    _reached("brook", "stream", "downstream", 10.0, 20.0),
    _reached("lake", "lake", "downstream", 900.0, 1_500.0),
    _reached("marsh", "wetland", "near", 200.0),
)


def without(plant: Plant, traits: Iterable[Trait]) -> Plant:
    """The plant with some traits unknown. A published doubling time stays: it is no judgement."""
    kept = plant.traits
    for trait in traits:
        if trait == "spread_rate":
            kept = replace(kept, spread_rate=None)
        else:
            kept = replace(kept, native_north_america=None, native_regions=())
    return replace(plant, traits=kept)


def intervals(plants: Iterable[Plant], zone: str, parameters: Parameters) -> dict[str, Interval]:
    """Escape to any of the waters of the standard site in a zone, by accepted name."""
    there = setting(PLACE, Climate(hardiness_zone=zone), WATERS, parameters)
    return {
        plant.accepted_name: to_interval(run(inputs_of(case_of(plant, there, (), None))).overall)
        for plant in plants
    }


def scores(
    plants: Iterable[Plant], parameters: Parameters, zones: Iterable[str] = ZONES
) -> dict[str, float]:
    """The middle of the interval at the site where it is highest: a plant is listed where it is
    a trouble.
    """
    several = list(plants)
    by_zone = [intervals(several, zone, parameters) for zone in zones]
    return {
        plant.accepted_name: max(found[plant.accepted_name].middle for found in by_zone)
        for plant in several
    }
