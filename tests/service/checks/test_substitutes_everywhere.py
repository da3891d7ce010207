"""Whatever a state restricts, what is offered instead passes there: drawn in the usual suite, all
restricted plants of all states in the long run.
"""

import random
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

import pytest

from service.checks.plan.check import check_plan
from service.checks.plan.values import PlantingAnswer
from service.input.plan import read_plan
from service.regulation.restricted import restricted_in
from service.store.library import Library
from service.substitutes.parameters import tell_apart
from service.values.plants import Plant
from service.values.vocabulary import Jurisdiction

ON = date(2026, 6, 1)
MOST = 40
STATES = {
    f"US-{state}": zone
    for zone, states in {
        "4a": "ND",
        "4b": "AK MN MT VT",
        "5a": "IA ME NH SD WI WY",
        "5b": "CO IL MI NE NV",
        "6a": "IN NY OH",
        "6b": "CT ID KS KY MA MO PA RI WV",
        "7a": "MD NJ NM OK TN UT",
        "7b": "AR DE DC NC VA",
        "8a": "AL GA MS OR SC",
        "8b": "TX WA",
        "9a": "LA",
        "9b": "AZ CA FL",
        "12a": "HI",
    }.items()
    for state in states.split()
}
"""A hardiness zone of much of each state, from memory; no assertion hangs on which it is."""
WATER: dict[str, Any] = {
    "flow": "still",
    "light": "sun",
    "outlet": True,
    "overflow": True,
    "freezing_depth_cm": 30,
}
PLACES = [
    {"name": "Pond", "kind": "pond", "area_m2": 200, "depth_cm": 90, **WATER},
    {"name": "Bog", "kind": "bog", "area_m2": 40, "depth_cm": 0, **WATER},
]


def restricted_plants(library: Library, state: str) -> list[Plant]:
    """Of the catalogue, by name."""
    subject = library.taxonomy.subject
    return [
        plant
        for plant in sorted(library.plants.values(), key=lambda plant: plant.accepted_name)
        if plant.catalogued
        and Jurisdiction(state) in restricted_in(library.law, subject(plant.plant_id), ON)
    ]


def planted(plant: Plant) -> dict[str, Any]:
    """Where such a plant stands: wet ground and the edge in the bog, all else in the pond."""
    if plant.traits.growth_form == "wet-soil":
        return {"label": plant.accepted_name, "place": "Bog", "crown_depth_cm": 0}
    depth = 10 if plant.traits.growth_form == "emergent" else 60
    return {"label": plant.accepted_name, "place": "Pond", "crown_depth_cm": depth}


def answered(
    library: Library, state: str, plantings: Sequence[dict[str, Any]]
) -> Iterator[PlantingAnswer]:
    site = {"state": state, "hardiness_zone": STATES[state]}
    for first in range(0, len(plantings), MOST):
        some = plantings[first : first + MOST]
        plan = read_plan({"site": site, "places": PLACES, "plantings": some})
        yield from check_plan(library, plan, on=ON).plantings


def nothing_wrong(library: Library, state: str, plants: Sequence[Plant]) -> int:
    """Put what is offered for the plants through the check; how many different ones there were."""
    by_name = {plant.accepted_name: plant for plant in library.plants.values()}
    again: dict[tuple[str, str, float], dict[str, Any]] = {}
    restricted = {plant.accepted_name for plant in restricted_plants(library, state)}
    plantings = [planted(plant) for plant in plants]
    for target, asked, answer in zip(
        plants, plantings, answered(library, state, plantings), strict=True
    ):
        if answer.substitutes is None:
            continue
        for offer in answer.substitutes.plants:
            name = offer.accepted_name
            assert name not in restricted, (state, target.accepted_name, name)
            kin = [
                other
                for other in restricted
                if by_name[other].genus == by_name[name].genus
                and by_name[other].rank == "species"
                and by_name[name].parent_id != by_name[other].plant_id
            ]
            assert all(tell_apart(name, other) for other in kin), (state, name, kin)
            assert not kin or offer.tell_apart
            key = (name, asked["place"], asked["crown_depth_cm"])
            again[key] = {**asked, "label": name}
    for key, answer in zip(again, answered(library, state, list(again.values())), strict=True):
        assert answer.native, key
        assert answer.verdict != "hold-back", (state, key, answer.conditions)
        assert answer.outcome in ("no-entry-found", "undetermined"), (state, key)
        winters = [fit.aspect("winter") for fit in answer.fits]
        assert all(winter.verdict == "fits" for winter in winters), (state, key, winters)
    return len(again)


def test_what_is_offered_for_drawn_plants_passes_there(library: Library) -> None:
    chance = random.Random(17)
    found = 0
    for state in chance.sample(sorted(STATES), 6):
        plants = restricted_plants(library, state)
        found += nothing_wrong(library, state, chance.sample(plants, min(8, len(plants))))
    assert found > 10


@pytest.mark.slow
@pytest.mark.parametrize("state", STATES)
def test_what_is_offered_for_any_plant_that_the_state_restricts_passes_there(
    library: Library, state: str
) -> None:
    nothing_wrong(library, state, restricted_plants(library, state))
