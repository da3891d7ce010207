"""Substitutes: likeness, order, and what is never offered."""

from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.store.library import Library
from service.substitutes import CandidateFacts, alike, choose, distance_between, why_not
from service.substitutes.parameters import trade_levels, weights
from service.values.nativity import StateRecord, region_of
from service.values.plants import Plant, Range, Traits
from service.values.vocabulary import STATES, GrowthForm, Jurisdiction, Outcome, PlantId

TARGET = Plant(
    PlantId("invented-target"),
    "Inventa nocens",
    "species",
    "Inventa",
    traits=Traits(
        growth_form="emergent",
        height_cm=Range(60, 120),
        depth_cm=Range(0, 30),
        flow=("still", "slow"),
        light=("sun",),
        zone_min=4,
        frost_kill="top-only",
        spread_rate="moderate",
        uses=("flower", "height-accent"),
    ),
)


OHIO = Jurisdiction("US-OH")
IN_OHIO = {OHIO: StateRecord("native", "an invented table")}


def like(name: str, **changes: object) -> Plant:
    traits = {"native_north_america": "yes", "native_regions": ("midwest",), **changes}
    return replace(
        TARGET,
        plant_id=PlantId(name),
        accepted_name=name,
        traits=replace(TARGET.traits, **traits),  # type: ignore[arg-type]
    )


def names(plants: list[Plant]) -> list[str]:
    levels = {plant.accepted_name: 1 for plant in plants}
    return [plant.accepted_name for plant in alike(TARGET, plants, OHIO, levels)]  # type: ignore[arg-type]


def facts(plant: Plant, outcome: Outcome = "no-entry-found", **more: object) -> CandidateFacts:
    given = {"listed": False, "restricted_in": 0, "fit": None, **more}
    return CandidateFacts(plant, "", plant.nativity(OHIO), outcome, **given)  # type: ignore[arg-type]


def test_a_native_of_the_state_comes_before_a_liker_one_of_the_region() -> None:
    of_state = replace(like("of state", height_cm=Range(50, 100)), state_records=IN_OHIO)
    assert names([like("of region"), of_state]) == ["of state", "of region"]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"native_north_america": "no", "native_regions": ()}, "not native"),
        ({"native_regions": ("southeast",)}, "native elsewhere is introduced here"),
        ({"growth_form": "submerged"}, "another form"),
        ({"uses": ("oxygenator",)}, "it does nothing of what the other does"),
        ({"height_cm": Range(10, 30)}, "of another size"),
        ({"height_cm": Range(1000, 5000)}, "a tree"),
        ({"spread_rate": "aggressive"}, "it would be with care itself"),
    ],
)
def test_what_is_not_like_enough(changes: dict[str, object], why: str) -> None:
    assert names([like("one", **changes)]) == [], why


def test_what_nobody_sells_is_not_offered() -> None:
    assert alike(TARGET, [like("unsold")], OHIO, {}) == []


def test_the_same_plant_its_varieties_and_its_hybrids_are_not_offered() -> None:
    variety = replace(like("variety"), parent_id=TARGET.plant_id)
    hybrid = replace(like("hybrid"), hybrid_parents=(TARGET.plant_id,))
    assert names([replace(TARGET), variety, hybrid]) == []


@pytest.mark.parametrize(
    ("candidate", "reason"),
    [
        (facts(like("one"), "prohibited"), "the law here names them"),
        (facts(like("one"), "listed-other-acts", listed=True), "the law here names them"),
        (facts(like("one"), restricted_in=4), "more than 3 states restrict them"),
        (
            facts(like("one"), barred_kin=("Inventa nocens",)),
            "they are easily taken for a barred plant",
        ),
    ],
)
def test_what_does_not_pass_and_why(candidate: CandidateFacts, reason: str) -> None:
    assert why_not(candidate) == reason
    found = choose(TARGET, [candidate.plant], lambda _: candidate)
    assert found.plants == ()
    assert reason in found.reason


def test_none_with_the_reason_where_nothing_is_like_it() -> None:
    assert "native-plant nursery" in choose(TARGET, [], facts).reason


def test_no_more_are_looked_at_than_are_offered() -> None:
    asked: list[str] = []

    def facts_of(plant: Plant) -> CandidateFacts:
        asked.append(plant.accepted_name)
        return facts(plant)

    found = choose(TARGET, [like(letter) for letter in "abcdef"], facts_of, most=2)
    assert [plant.accepted_name for plant in found.plants] == asked == ["a", "b"]


def test_a_plant_of_the_genus_of_a_barred_one_comes_with_a_line_to_tell_them_apart() -> None:
    flag = replace(like("Iris versicolor"), genus="Iris")
    found = choose(TARGET, [flag], lambda plant: facts(plant, barred_kin=("Iris pseudacorus",)))
    assert "never yellow" in found.plants[0].tell_apart


RANGES = st.none() | st.builds(
    lambda low, more: Range(low, low + more), st.floats(0, 300), st.floats(0, 200)
)
TRAITS = st.builds(
    Traits,
    growth_form=st.none() | st.sampled_from(get_args(GrowthForm)),
    height_cm=RANGES,
    depth_cm=RANGES,
    flow=st.lists(st.sampled_from(["still", "slow", "moving"]), unique=True).map(tuple),
    light=st.lists(st.sampled_from(["sun", "part-shade", "shade"]), unique=True).map(tuple),
    zone_min=st.none() | st.integers(1, 13),
    frost_kill=st.sampled_from([None, "yes", "top-only", "no", "unknown"]),
    uses=st.lists(st.sampled_from(["flower", "foliage", "filter"]), unique=True).map(tuple),
)


@given(TRAITS, TRAITS)
@settings(max_examples=150)
def test_distance_is_symmetric_bounded_and_zero_to_itself(one: Traits, other: Traits) -> None:
    there, back = distance_between(one, other), distance_between(other, one)
    assert (there.low, there.high) == pytest.approx((back.low, back.high))
    assert 0 <= there.low <= there.high <= 1
    assert distance_between(one, one).low == 0


@given(TRAITS, TRAITS)
@settings(max_examples=100)
def test_learning_a_trait_never_widens_the_distance(one: Traits, other: Traits) -> None:
    before = distance_between(one, replace(other, height_cm=None))
    after = distance_between(one, other)
    assert before.low - 1e-12 <= after.low
    assert after.high <= before.high + 1e-12


def test_distance_by_hand() -> None:
    """Equal but for depth 0-30 against 0-60 cm: |30| / 60 / 2 = 0.25, weight 0.14: 0.035 (the
    weights file).
    """
    other = replace(TARGET.traits, depth_cm=Range(0, 60))
    found = distance_between(TARGET.traits, other)
    assert found.low == found.high == pytest.approx(0.25 * weights().weights["depth"])


def test_the_weights_make_one_and_the_form_pairs_are_known_forms() -> None:
    assert sum(weights().weights.values()) == pytest.approx(1)
    forms = set(get_args(GrowthForm))
    for pair in weights().form:
        assert set(pair.split()) <= forms
        assert pair == " ".join(sorted(pair.split()))


def test_every_state_lies_in_a_region_that_the_catalogue_names(library: Library) -> None:
    named = {region for plant in library.plants.values() for region in plant.traits.native_regions}
    assert {region_of(state) for state in STATES} == named


@pytest.mark.parametrize(
    ("state", "region"),
    [
        ("US-TX", "southwest"),
        ("US-NM", "southwest"),
        ("US-KS", "great-plains"),
        ("US-OK", "great-plains"),
        ("US-ND", "great-plains"),
        ("US-MO", "midwest"),
        ("US-IA", "midwest"),
        ("US-VA", "southeast"),
        ("US-KY", "southeast"),
        ("US-WV", "northeast"),
        ("US-MD", "northeast"),
        ("US-NV", "mountain"),
        ("US-ID", "mountain"),
    ],
)
def test_border_states_lie_where_the_catalogue_puts_them(state: str, region: str) -> None:
    """The catalogue's own statement of its regions."""
    assert region_of(Jurisdiction(state)) == region


def test_federal_law_has_no_region() -> None:
    assert region_of(Jurisdiction("US")) is None


def test_every_line_and_every_sold_plant_is_of_the_catalogue(library: Library) -> None:
    accepted = {plant.accepted_name for plant in library.plants.values()}
    assert set(trade_levels()) <= accepted
