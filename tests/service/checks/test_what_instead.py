"""Substitutes in a plan: what an expert would offer, and what must never be offered again."""

from datetime import date
from typing import Any

import pytest

from service.checks.plan.check import check_plan
from service.checks.plan.values import PlantingAnswer
from service.input.plan import read_plan
from service.store.library import Library

POND = {
    "name": "Pond",
    "kind": "pond",
    "area_m2": 60,
    "depth_cm": 90,
    "flow": "still",
    "light": "sun",
    "outlet": True,
    "overflow": True,
    "freezing_depth_cm": 25,
}
BOG = {**POND, "kind": "bog", "depth_cm": 0}
BROOK = {**POND, "kind": "stream", "depth_cm": 10, "flow": "moving"}
CASES: dict[str, tuple[str, str, dict[str, Any], float | None, set[str], set[str]]] = {
    # label: state, zone, place, crown depth, offered at least, never offered
    "Yellow flag iris": (
        "US-OH", "6a", POND, 10,
        {"Iris versicolor"},
        {"Iris pseudacorus"},
    ),
    "Water hyacinth": (
        "US-WI", "5a", POND, None,
        {"Nymphaea odorata"},
        {"Salvinia minima", "Hydrocharis laevigata", "Phyllanthus fluitans", "Nymphaea lotus"},
    ),
    "Typha angustifolia": (
        "US-WI", "5a", POND, 20,
        {"Schoenoplectus tabernaemontani"},
        {"Phragmites australis subsp. americanus", "Typha latifolia", "Thalia dealbata"},
    ),
    "Carex stricta plugs": (
        "US-OH", "6a", BROOK, 5,
        {"Carex crinita"},
        {"Phalaris arundinacea"},
    ),
    "Parrot's feather": (
        "US-WI", "5a", POND, 20,
        set(),
        {"Hydrocotyle ranunculoides", "Ludwigia peploides"},
    ),
    "Eichhornia crassipes": (
        "US-TX", "8b", POND, None,
        set(),
        {"Stratiotes aloides", "Azolla filiculoides", "Salvinia minima", "Pistia stratiotes"},
    ),
    "Lythrum salicaria 'Robert'": (
        "US-MN", "4b", BOG, 0,
        {"Eutrochium maculatum"},
        {"Lythrum virgatum"},
    ),
    "Egeria densa": (
        "US-CO", "6b", POND, 60,
        {"Ceratophyllum demersum"},
        {"Cabomba caroliniana", "Vallisneria spiralis"},
    ),
}  # fmt: skip


def answered(library: Library, label: str) -> PlantingAnswer:
    state, zone, place, crown, _, _ = CASES[label]
    planting = {"label": label, **({} if crown is None else {"crown_depth_cm": crown})}
    document = {
        "site": {"state": state, "hardiness_zone": zone},
        "places": [place],
        "plantings": [planting],
    }
    return check_plan(library, read_plan(document), on=date(2026, 6, 1)).planting(1)


@pytest.mark.parametrize("label", CASES)
def test_what_is_offered_instead(library: Library, label: str) -> None:
    planting = answered(library, label)
    assert planting.verdict == "hold-back"
    assert planting.substitutes is not None
    offered = {plant.accepted_name for plant in planting.substitutes.plants}
    *_, wanted, never = CASES[label]
    assert wanted <= offered
    assert not never & offered
    assert bool(offered) != bool(planting.substitutes.reason)


@pytest.mark.parametrize("label", CASES)
def test_each_is_put_through_the_same_check_in_the_same_place(library: Library, label: str) -> None:
    """As a planting of its own it is not held back, and nothing is to be changed for it."""
    planting = answered(library, label)
    assert planting.substitutes is not None
    state, zone, place, crown, _, _ = CASES[label]
    names = [plant.accepted_name for plant in planting.substitutes.plants]
    if not names:
        return
    depth = {} if crown is None else {"crown_depth_cm": crown}
    document = {
        "site": {"state": state, "hardiness_zone": zone},
        "places": [place],
        "plantings": [{"label": name, **depth} for name in names],
    }
    again = check_plan(library, read_plan(document), on=date(2026, 6, 1))
    for checked in again.plantings:
        assert checked.verdict != "hold-back", checked.conditions
        assert checked.native
        kinds = {ground.kind for ground in checked.grounds}
        unknown_depth = crown is None
        assert kinds <= ({"change", "undetermined"} if unknown_depth else {"undetermined"})


def test_one_that_may_be_taken_for_the_barred_plant_comes_with_a_line_to_tell_it(
    library: Library,
) -> None:
    planting = answered(library, "Yellow flag iris")
    assert planting.substitutes is not None
    for plant in planting.substitutes.plants:
        # yellow flag itself, and an arrowhead that federal law bars
        assert bool(plant.tell_apart) == (plant.accepted_name.split()[0] in ("Iris", "Sagittaria"))
        assert plant.common_name
