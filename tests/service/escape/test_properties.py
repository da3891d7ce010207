"""Properties of the whole chain over invented plants, places, waters and records."""

from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.escape import Assessment, Interval, assess
from service.escape.values import PlannedMeasure
from service.values.plants import Traits
from service.values.site import Climate, Place
from service.values.waters import Reached
from tests.service.escape.samples import (
    FORGETTABLE,
    annuli,
    climates,
    forgotten,
    full_climates,
    full_places,
    full_traits,
    measures,
    partial_traits,
    places,
    plant_named,
    ringed,
    several_waters,
)

ROOM = 1e-9
often = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def run(
    traits: Traits,
    place: Place,
    climate: Climate,
    waters: list[Reached],
    counts: list[tuple[int, int]] | None = None,
    containment: tuple[PlannedMeasure, ...] = (),
) -> Assessment:
    evidence = None if counts is None else ringed(counts)
    return assess(
        plant_named("Planta", traits), place, climate, waters, evidence, containment=containment
    )


def not_above(lower: Interval, higher: Interval) -> bool:
    return lower.low <= higher.low + ROOM and lower.high <= higher.high + ROOM


def within(inner: Interval, outer: Interval) -> bool:
    return outer.low - ROOM <= inner.low and inner.high <= outer.high + ROOM


@given(partial_traits, places, climates, several_waters, annuli, measures)
@often
def test_every_stage_and_result_lies_within_zero_to_one_and_they_fit_together(
    traits: Traits,
    place: Place,
    climate: Climate,
    waters: list[Reached],
    counts: list[tuple[int, int]],
    containment: tuple[PlannedMeasure, ...],
) -> None:
    result = run(traits, place, climate, waters, counts, containment)
    for water in result.waters:
        for stage in (water.release, water.reach, water.establish):
            assert 0.0 <= stage.interval.low <= stage.interval.high <= 1.0
            weights = [factor.weight for factor in stage.factors]
            assert weights == sorted(weights, reverse=True)
        assert not_above(water.interval, water.release.interval)
        assert not_above(water.interval, water.establish.interval)
        assert water.interval.high <= result.interval.high + ROOM
        missed = np.prod(
            [[1 - route.arrives.low, 1 - route.arrives.high] for route in water.routes], axis=0
        )
        assert abs(water.interval.high - (1 - missed[1]) * water.establish.interval.high) < ROOM
        assert abs(water.interval.low - (1 - missed[0]) * water.establish.interval.low) < ROOM
    assert not_above(result.interval, result.this_summer)


@given(full_traits, full_places, full_climates, several_waters, st.data())
@often
def test_a_fact_forgotten_never_narrows_and_a_fact_added_never_widens(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached], data: st.DataObject
) -> None:
    known = run(traits, place, climate, waters)
    columns = data.draw(st.sets(st.sampled_from([column for column, _ in FORGETTABLE]), max_size=4))
    facts = [
        "area_m2",
        "outlet",
        "overflow",
        "flood_prone",
        "bank_contact",
        "lined",
        "visited",
        "zone",
        "first_frost",
    ]
    gone = data.draw(st.sets(st.sampled_from(facts), max_size=4))
    blank: dict[str, None] = {fact: None for fact in gone if fact not in ("zone", "first_frost")}
    if "outlet" in blank:
        blank["outlet_flow_l_s"] = None
    vaguer = run(
        forgotten(traits, columns),
        replace(place, **blank),  # type: ignore[arg-type]
        Climate(
            None if "zone" in gone else climate.hardiness_zone,
            first_frost=None if "first_frost" in gone else climate.first_frost,
        ),
        waters,
    )
    assert within(known.interval, vaguer.interval)
    assert within(known.this_summer, vaguer.this_summer)
    for before, after in zip(vaguer.waters, known.waters, strict=True):
        assert within(after.interval, before.interval)
        assert within(after.release.interval, before.release.interval)
        assert within(after.establish.interval, before.establish.interval)


@given(partial_traits, places, climates, several_waters, st.floats(1.0, 50.0))
@often
def test_a_farther_water_is_never_more_exposed(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached], times: float
) -> None:
    farther = [
        replace(
            water,
            overland_m=water.overland_m * times,
            along_m=None if water.along_m is None else water.along_m * times,
            lakes_passed=water.lakes_passed + 1,
        )
        for water in waters
    ]
    near, far = run(traits, place, climate, waters), run(traits, place, climate, farther)
    for one, other in zip(far.waters, near.waters, strict=True):
        assert not_above(one.interval, other.interval)
    assert not_above(far.interval, near.interval)


@given(
    partial_traits,
    places,
    climates,
    several_waters,
    st.sampled_from(("outlet", "overflow", "flood_prone", "visited")),
)
@often
def test_a_further_way_out_never_lowers_the_result(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached], way: str
) -> None:
    shut = run(traits, replace(place, **{way: False}), climate, waters)  # type: ignore[arg-type]
    unsaid = run(traits, replace(place, **{way: None}), climate, waters)  # type: ignore[arg-type]
    open_ = run(traits, replace(place, **{way: True}), climate, waters)  # type: ignore[arg-type]
    assert not_above(shut.interval, unsaid.interval)
    assert not_above(unsaid.interval, open_.interval)


@given(full_traits, places, several_waters, st.floats(-40, 10), st.floats(0, 15))
@often
def test_a_milder_winter_never_lowers_establishment_of_a_plant_not_too_warm(
    traits: Traits, place: Place, waters: list[Reached], coldest_c: float, milder_c: float
) -> None:
    hot = replace(traits, zone_max=None)  # the warm end is a margin of its own
    cold = run(hot, place, Climate(extreme_minimum_c=(coldest_c, coldest_c)), waters)
    mild = run(
        hot, place, Climate(extreme_minimum_c=(coldest_c + milder_c, coldest_c + milder_c)), waters
    )
    assert not_above(cold.winter.persists, mild.winter.persists)


@given(partial_traits, places, climates, several_waters, annuli, st.integers(0, 3))
@often
def test_one_more_record_of_the_plant_never_lowers_the_result(
    traits: Traits,
    place: Place,
    climate: Climate,
    waters: list[Reached],
    counts: list[tuple[int, int]],
    ring: int,
) -> None:
    more = list(counts)
    more[ring] = (more[ring][0] + 1, max(more[ring]) + 1)
    before, after = (
        run(traits, place, climate, waters, counts),
        run(traits, place, climate, waters, more),
    )
    assert not_above(before.interval, after.interval)


@given(partial_traits, places, climates, several_waters, measures, measures)
@often
def test_containment_never_raises_the_result_and_enters_at_release_alone(
    traits: Traits,
    place: Place,
    climate: Climate,
    waters: list[Reached],
    planned: tuple[PlannedMeasure, ...],
    added: tuple[PlannedMeasure, ...],
) -> None:
    without = run(traits, place, climate, waters, containment=planned)
    with_more = run(traits, place, climate, waters, containment=planned + added)
    assert not_above(with_more.interval, without.interval)
    for held, free in zip(with_more.waters, without.waters, strict=True):
        assert not_above(held.interval, free.interval)
        assert not_above(held.release.interval, free.release.interval)
        assert held.establish == free.establish


@given(partial_traits, places, climates, several_waters)
@settings(max_examples=10, deadline=None)
def test_the_same_question_gives_the_same_answer(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached]
) -> None:
    assert run(traits, place, climate, waters) == run(traits, place, climate, waters)
