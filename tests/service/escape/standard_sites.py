"""The standard sites at which the plants of the catalogue are compared, and the score of a plant
there.

The site is invented: an open garden pond with every common way out, one brook, one lake and one
marsh in reach, the same in every zone, so that plants differ by their traits and by the winter
alone. No occurrence records are given. It is in no particular state.
"""

from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

from service.escape.model import run
from service.escape.parameters import Parameters
from service.escape.percentiles import estimate
from service.escape.setting import Setting, setting
from service.escape.values import Estimate
from service.values.plants import History, Plant
from service.values.site import Climate, Reached, Relation, Water
from service.values.vocabulary import WaterId, WaterKind
from tests.service.escape.samples import POND

ZONES = ("4b", "6b", "9a", "10b")
"""Cold, middle and warm winters of the conterminous states, and the frost-free edge."""

Trait = Literal["spread_rate", "native_north_america", "history"]

PLACE = replace(POND, name="standard pond", area_m2=30.0)


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


FIRST_FROST = "10-15"


def without(plant: Plant, traits: Iterable[Trait]) -> Plant:
    """The plant with some traits unknown. Without history, as if it had no record anywhere."""
    kept = plant.traits
    for trait in traits:
        if trait == "spread_rate":
            kept = replace(kept, spread_rate="moderate")
        elif trait == "history":
            kept = replace(kept, history=History())
        else:
            kept = replace(kept, native_north_america="no", native_regions=())
    return replace(plant, traits=kept)


def site(zone: str, parameters: Parameters) -> Setting:
    """The standard site in a zone, in no particular state."""
    climate = Climate(hardiness_zone=zone, first_frost=FIRST_FROST)
    return setting(PLACE, climate, WATERS, None, parameters)


def chances(plants: Iterable[Plant], zone: str, parameters: Parameters) -> dict[str, Estimate]:
    """Escape to any of the waters of the standard site in a zone, by accepted name."""
    there = site(zone, parameters)
    found = {}
    for plant in plants:
        outcome = run(plant, there.for_plant(plant.traits))
        found[plant.accepted_name] = estimate(outcome.overall(), outcome.setting.draws)
    return found


def scores(
    plants: Iterable[Plant], parameters: Parameters, zones: Iterable[str] = ZONES
) -> dict[str, float]:
    """The likely chance at the zone where it is highest: a plant is listed where it is a trouble."""
    several = list(plants)
    by_zone = [chances(several, zone, parameters) for zone in zones]
    return {
        plant.accepted_name: max(found[plant.accepted_name].likely for found in by_zone)
        for plant in several
    }
