"""Screening gives the figures of an assessment, for any plants, places, waters and records."""

from hypothesis import given
from hypothesis import strategies as st

from service.escape import PlannedMeasure, assess_widest, screen, widest
from service.values.plants import Traits
from service.values.site import Climate, Place, Reached
from service.values.vocabulary import Jurisdiction
from tests.service.escape.samples import (
    annuli,
    climates,
    full_traits,
    measures,
    partial_traits,
    places,
    plant_named,
    ringed,
    several_waters,
)
from tests.service.escape.test_properties import often

OHIO = Jurisdiction("US-OH")


@given(
    st.lists(partial_traits | full_traits, min_size=1, max_size=3),
    st.lists(places, min_size=1, max_size=2),
    climates,
    several_waters,
    annuli,
    measures,
    st.sampled_from([OHIO, None]),
)
@often
def test_the_figures_are_those_of_the_assessment(
    several: list[Traits],
    kinds: list[Place],
    climate: Climate,
    waters: list[Reached],
    counts: list[tuple[int, int]],
    containment: tuple[PlannedMeasure, ...],
    state: Jurisdiction | None,
) -> None:
    plants = [plant_named(f"Planta {number}", traits) for number, traits in enumerate(several)]
    records = {plant.plant_id: ringed(counts) for plant in plants}
    presence = {plant_id: evidence.presence for plant_id, evidence in records.items()}
    found = screen(
        plants, kinds, climate, waters, presence, state=state, containment=containment
    ).of(plants)
    whole = widest(
        [
            assess_widest(
                plants, place, climate, waters, records, state=state, containment=containment
            )
            for place in kinds
        ]
    )
    assert found.estimate == whole.estimate
    assert found.escape_class == whole.escape_class
    assert [(water.water_id, water.name, water.estimate) for water in found.waters] == [
        (water.water_id, water.name, water.estimate) for water in whole.waters
    ]
