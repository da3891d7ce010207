"""Properties of the whole chain over invented plants, places, waters and records."""

from dataclasses import replace

from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from service.escape import Assessment, Estimate, PlannedMeasure, assess
from service.values.plants import History, Traits
from service.values.site import Climate, Place, Reached
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
often = settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)


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


def not_above(lower: Estimate, higher: Estimate) -> bool:
    return (
        lower.likely <= higher.likely + ROOM
        and lower.low <= higher.low + ROOM
        and lower.high <= higher.high + ROOM
    )


def within(inner: Estimate, outer: Estimate) -> bool:
    return (
        outer.low - ROOM <= inner.low
        and inner.high <= outer.high + ROOM
        and outer.cannot_exclude.low - ROOM <= inner.cannot_exclude.low
        and inner.cannot_exclude.high <= outer.cannot_exclude.high + ROOM
    )


@given(partial_traits, places, climates, several_waters, annuli, measures)
@often
def test_every_estimate_lies_within_zero_to_one_in_order(
    traits: Traits,
    place: Place,
    climate: Climate,
    waters: list[Reached],
    counts: list[tuple[int, int]],
    containment: tuple[PlannedMeasure, ...],
) -> None:
    result = run(traits, place, climate, waters, counts, containment)
    every = [result.estimate, result.this_summer]
    for water in result.waters:
        every += [water.estimate, *(route.arrives for route in water.routes)]
        for stage in (water.leaves, water.arrives, water.persists):
            every.append(stage.estimate)
            weights = [factor.weight for factor in stage.factors]
            assert weights == sorted(weights, reverse=True)
            assert water.estimate.cannot_exclude.high <= stage.estimate.cannot_exclude.high + ROOM
        assert water.estimate.high <= result.estimate.high + ROOM
        assert water.estimate.likely <= result.estimate.likely + ROOM
    for one in every:
        ends = one.cannot_exclude
        assert 0.0 <= ends.low <= one.low <= one.likely <= one.high <= ends.high <= 1.0 + ROOM


@given(full_traits, full_places, full_climates, several_waters, st.data())
@often
def test_a_fact_answered_never_widens_the_interval(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached], data: st.DataObject
) -> None:
    columns = data.draw(st.sets(st.sampled_from([column for column, _ in FORGETTABLE]), max_size=4))
    # a perennial that frost kills whole is taken to be grown from zone 7 up
    assume("zone_min" not in columns or traits.frost_kill != "yes" or (traits.zone_min or 0) >= 7)
    # what is forgotten of the ways of spreading is forgotten of what was measured of them
    assume("history" in columns or "spread_modes" not in columns)
    facts = ("area_m2", "outlet", "overflow", "flood_prone", "bank_contact", "lined", "visited")
    climatic = ("surplus", "zone", "first_frost")
    gone = data.draw(st.sets(st.sampled_from((*facts, *climatic)), max_size=4))
    blank: dict[str, None] = {fact: None for fact in gone if fact not in ("zone", "first_frost")}
    if "outlet" in blank:
        blank["outlet_flow_l_s"] = None
    known = run(traits, place, climate, waters)
    vaguer = run(
        forgotten(traits, columns),
        replace(place, **blank),  # type: ignore[arg-type]
        Climate(
            None if "zone" in gone else climate.hardiness_zone,
            first_frost=None if "first_frost" in gone else climate.first_frost,
        ),
        waters,
    )
    assert within(known.estimate, vaguer.estimate)
    assert within(known.this_summer, vaguer.this_summer)
    for before, after in zip(vaguer.waters, known.waters, strict=True):
        assert within(after.estimate, before.estimate)
        assert within(after.persists.estimate, before.persists.estimate)


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
        assert not_above(one.estimate, other.estimate)
    assert not_above(far.estimate, near.estimate)


@given(full_traits, full_places, full_climates, several_waters, st.floats(0.0, 1.0))
@often
def test_less_flow_never_raises_the_result(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached], share: float
) -> None:
    less = replace(place, outlet_flow_l_s=(place.outlet_flow_l_s or 0.0) * share)
    assert not_above(
        run(traits, less, climate, waters).estimate, run(traits, place, climate, waters).estimate
    )


@given(
    partial_traits,
    places,
    climates,
    several_waters,
    st.sampled_from(("outlet", "overflow", "flood_prone", "visited", "surplus")),
)
@often
def test_a_further_way_out_never_lowers_the_result(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached], way: str
) -> None:
    shut = run(traits, replace(place, **{way: False}), climate, waters)  # type: ignore[arg-type]
    unsaid = run(traits, replace(place, **{way: None}), climate, waters)  # type: ignore[arg-type]
    open_ = run(traits, replace(place, **{way: True}), climate, waters)  # type: ignore[arg-type]
    assert not_above(shut.estimate, unsaid.estimate)
    assert not_above(unsaid.estimate, open_.estimate)


@given(full_traits, full_places, several_waters, st.floats(-40, 0), st.floats(0, 8))
@often
def test_a_colder_winter_never_raises_a_plant_that_frost_kills(
    traits: Traits, place: Place, waters: list[Reached], coldest_c: float, milder_c: float
) -> None:
    tender = replace(traits, zone_min=9, zone_max=13, frost_kill="yes")
    cold, mild = (
        run(tender, place, Climate(extreme_minimum_c=(c, c), first_frost="10-15"), waters)
        for c in (coldest_c, coldest_c + milder_c)
    )
    assert cold.likely <= mild.likely + 2e-3  # the warm end of zone 13 is all but out of reach


@given(partial_traits, places, climates, several_waters, annuli, st.integers(0, 3))
@often
def test_records_never_widen_and_a_further_one_never_lowers_the_result(
    traits: Traits,
    place: Place,
    climate: Climate,
    waters: list[Reached],
    counts: list[tuple[int, int]],
    ring: int,
) -> None:
    more = list(counts)
    more[ring] = (more[ring][0] + 1, max(more[ring]) + 1)
    none = run(traits, place, climate, waters)
    before, after = (run(traits, place, climate, waters, one) for one in (counts, more))
    assert within(before.estimate, none.estimate)
    assert within(after.estimate, before.estimate)
    assert before.likely <= after.likely + ROOM
    for one, other in zip(after.waters, none.waters, strict=True):
        assert within(one.estimate, other.estimate)


@given(partial_traits, places, climates, several_waters, st.integers(0, 5_000))
@often
def test_that_nobody_found_it_changes_nothing(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached], looked: int
) -> None:
    none = run(traits, place, climate, waters)
    absent = run(traits, place, climate, waters, [(0, looked)] * 4)
    assert absent.estimate == none.estimate
    assert [water.estimate for water in absent.waters] == [water.estimate for water in none.waters]


@given(partial_traits, places, climates, several_waters, measures, measures)
@often
def test_containment_never_raises_the_result_and_changes_what_leaves_alone(
    traits: Traits,
    place: Place,
    climate: Climate,
    waters: list[Reached],
    planned: tuple[PlannedMeasure, ...],
    added: tuple[PlannedMeasure, ...],
) -> None:
    without = run(traits, place, climate, waters, containment=planned)
    with_more = run(traits, place, climate, waters, containment=planned + added)
    assert not_above(with_more.estimate, without.estimate)
    for kept_in, free in zip(with_more.waters, without.waters, strict=True):
        assert not_above(kept_in.estimate, free.estimate)
        assert not_above(kept_in.leaves.estimate, free.leaves.estimate)
        assert kept_in.persists.estimate == free.persists.estimate


@given(full_traits, full_places, full_climates, several_waters, st.integers(0, 30))
@often
def test_two_plants_alike_but_for_one_trait_differ_only_through_it(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached], more: int
) -> None:
    past = traits.history or History()
    spread = replace(
        traits, history=replace(past, like_climate_regions=past.like_climate_regions + more)
    )
    less_known, known = (run(one, place, climate, waters) for one in (traits, spread))
    assert less_known.likely <= known.likely + ROOM
    for one, other in zip(less_known.waters, known.waters, strict=True):
        assert one.leaves == other.leaves
        assert one.arrives == other.arrives
        assert one.persists.estimate.likely <= other.persists.estimate.likely + ROOM


@given(partial_traits, places, climates, several_waters)
@settings(max_examples=10, deadline=None)
def test_the_same_question_gives_the_same_answer(
    traits: Traits, place: Place, climate: Climate, waters: list[Reached]
) -> None:
    assert run(traits, place, climate, waters) == run(traits, place, climate, waters)
