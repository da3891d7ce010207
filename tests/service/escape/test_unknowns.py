from dataclasses import replace

from service.escape import Assessment, assess
from service.values.plants import Traits
from service.values.site import Climate, Place
from service.values.waters import Reached
from tests.service.escape.catalogue import plants
from tests.service.escape.samples import BROOK, LAKE, POND, plant_named, records

IRIS = plants()["Iris pseudacorus"]
SIX = Climate("6a", first_frost="10-10")
DOWN = [Reached(LAKE, "downstream", 400.0, 600.0)]


def _facts(result: Assessment) -> list[str]:
    return [unknown.fact for unknown in result.deciding_unknowns]


def test_what_has_been_said_is_not_asked() -> None:
    asked = _facts(assess(IRIS, POND, SIX, DOWN, records(2, 100)))
    assert asked == []


def test_the_narrowing_is_that_of_asking_again_with_the_fact() -> None:
    place = replace(POND, outlet=None, outlet_flow_l_s=None, visited=False, overflow=False)
    result = assess(IRIS, place, SIX, DOWN, None)
    unknown = next(one for one in result.deciding_unknowns if one.fact == "place.outlet")
    again = {
        "yes": assess(IRIS, replace(place, outlet=True), SIX, DOWN, None).interval,
        "no": assess(IRIS, replace(place, outlet=False), SIX, DOWN, None).interval,
    }
    assert dict(unknown.answers) == again
    mean = sum(interval.width for interval in again.values()) / 2
    assert unknown.narrows_by == result.interval.width - mean
    assert _facts(result)[0] == "place.outlet"


def test_unknowns_come_in_order_of_how_much_they_narrow() -> None:
    place = Place("nothing said", "pond")
    result = assess(IRIS, place, Climate(), [*DOWN, Reached(BROOK, "downstream", 3.0, 5.0)], None)
    narrowing = [max(unknown.narrows_by, 0.0005) for unknown in result.deciding_unknowns]
    assert narrowing == sorted(narrowing, reverse=True)
    assert {"climate.hardiness_zone", "place.visited"} <= set(_facts(result))


def test_a_plant_known_by_name_alone_asks_for_its_traits() -> None:
    plant = replace(plant_named("Ignota", Traits()), catalogued=False)
    result = assess(plant, POND, SIX, DOWN, None)
    assert result.interval.high > 0.9
    assert any(fact.startswith("plant.") for fact in _facts(result))
    assert any("known by name alone" in note for note in result.notes)


def test_without_a_network_the_way_by_water_is_asked_for() -> None:
    shut = replace(POND, visited=False, bank_contact=False)
    result = assess(
        plants()["Myriophyllum spicatum"], shut, SIX, [Reached(LAKE, "near", 5_000.0)], None
    )
    assert "waters.network" in _facts(result)
    assert any("straight lines" in note for note in result.notes)


def test_a_stream_planting_is_not_asked_for_outlet_or_bank() -> None:
    asked = _facts(assess(IRIS, Place("brook", "stream"), SIX, DOWN, None))
    assert not {"place.outlet", "place.bank_contact", "place.lined"} & set(asked)


def test_every_answer_lies_within_what_was_held_before_but_for_records() -> None:
    result = assess(IRIS, Place("nothing said", "pond"), Climate(), DOWN, None)
    for unknown in result.deciding_unknowns:
        if unknown.fact != "evidence":
            assert all(interval in result.interval for _, interval in unknown.answers), unknown.fact
