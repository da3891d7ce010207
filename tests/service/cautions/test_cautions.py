"""Cautions stand where they matter."""

from dataclasses import replace
from typing import get_args

import pytest

from service.cautions import Work, cautions_for, general_cautions
from service.cautions.lookup import entries
from service.errors import UnknownValue
from service.store.library import Library
from service.values.plants import Plant, Traits
from service.values.site import Place
from service.values.vocabulary import MeasureKind, PlantId

POND = Place(
    "Invented Pond",
    "pond",
    depth_cm=100,
    flow="still",
    flood_prone=False,
    visited=False,
    freezing_depth_cm=0,
)


def ids(**asked: object) -> list[str]:
    return [caution.caution_id for caution in cautions_for(**asked)]  # type: ignore[arg-type]


def plant(**traits: object) -> Plant:
    return Plant(PlantId("invented"), "Inventa", "species", "Inventa", traits=Traits(**traits))  # type: ignore[arg-type]


def test_water_celery_warns_of_its_deadly_look_alike_and_of_eating_it(library: Library) -> None:
    found = cautions_for(plant=library.plants[PlantId("oenanthe-javanica")])
    by_id = {caution.caution_id: caution for caution in found}
    assert {"deadly-look-alike", "edible-untested", "breaks-up"} <= set(by_id)
    assert "water hemlock" in by_id["deadly-look-alike"].text
    assert by_id["deadly-look-alike"].subject == "Oenanthe javanica"


@pytest.mark.parametrize(
    ("hazards", "caution"),
    [
        ("raw plant irritates (calcium oxalate)", "irritant"),
        ("leaf edges sharp", "sharp"),
        ("rhizome poisonous if eaten", "poisonous"),
        ("toxic to stock", "harms-stock"),
        ("vigorous rhizomes can pierce thin liners", "pierces-liner"),
        ("wild-gathered plants can carry liver fluke", "fluke"),
        ("something nobody has thought of", "noted-hazard"),
    ],
)
def test_each_hazard_has_its_line(hazards: str, caution: str) -> None:
    assert caution in ids(plant=plant(hazards=hazards))


def test_no_hazard_of_the_catalogue_is_left_without_a_line(library: Library) -> None:
    for grown in library.plants.values():
        if grown.traits.hazards:
            assert ids(plant=grown), grown.accepted_name


def test_a_plant_of_no_known_hazard_gets_none_and_is_not_called_harmless() -> None:
    assert ids(plant=plant()) == []
    assert not any("harmless" in entry.text or " safe" in entry.text for entry in entries())


def test_every_measure_of_containment_can_be_asked_and_the_dangerous_ones_speak() -> None:
    assert set(get_args(MeasureKind)) <= set(get_args(Work))
    for measure in get_args(MeasureKind):
        assert ids(measures=[measure]), measure
    assert {"lifting", "foam-tools", "anchors"} <= set(ids(measures=["foam-island"]))
    assert ids(measures=["pump"]) == ["pump"]
    assert "licensed applicators" in cautions_for(measures=["herbicide"])[0].text


def test_an_unknown_measure_is_turned_away() -> None:
    with pytest.raises(UnknownValue, match="foam-island"):
        cautions_for(measures=["catapult"])


def test_a_shallow_still_tank_is_not_called_deep_or_moving() -> None:
    shallow = replace(POND, depth_cm=20)
    assert ids(place=shallow) == ["site-pump"]
    assert "deep-water" in ids(place=POND)
    assert "moving-water" in ids(place=replace(POND, flow="moving"))


def test_dangers_that_nobody_has_ruled_out_are_said() -> None:
    assert {"deep-water", "moving-water", "ice", "flood", "unwashed-water"} <= set(
        ids(place=Place("Invented", "pond"))
    )


def test_each_caution_is_one_line_with_its_standing() -> None:
    for entry in entries():
        assert "\n" not in entry.text
        assert len(entry.text) <= 200, entry.id
    names = [entry.id for entry in entries()]
    assert len(names) == len(set(names))


def test_the_box_of_every_report_defers_to_authority_code_and_licence() -> None:
    text = " ".join(caution.text for caution in general_cautions())
    for word in ("not legal advice", "state authority", "Local code", "licensed"):
        assert word in text
    assert len(general_cautions()) <= 4
