"""Fits of like places are looked at once: what is left out of the key moves no fit."""

from hypothesis import given, settings

from service.fit import fit, read_by_fit
from service.values.plants import Traits
from service.values.site import Climate, Place, Position
from tests.service.escape.samples import climates, partial_traits, places, plant_named


@given(partial_traits, places, climates)
@settings(max_examples=60, deadline=None)
def test_a_fit_reads_nothing_of_the_place_but_what_its_key_holds(
    traits: Traits, place: Place, climate: Climate
) -> None:
    plant, position = plant_named("Planta", traits), Position(crown_depth_cm=10.0)
    assert fit(plant, read_by_fit(place), position, climate) == fit(plant, place, position, climate)
