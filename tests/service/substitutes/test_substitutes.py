"""Substitutes: likeness, order, and what is never offered."""

from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.store.library import Library
from service.substitutes import CandidateFacts, distance_between, substitutes
from service.substitutes.parameters import weights
from service.values.plants import Plant, Range, Traits
from service.values.regions import region_of
from service.values.vocabulary import OUTCOMES, STATES, GrowthForm, Jurisdiction, Outcome, PlantId

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
        uses=("flower", "height-accent"),
    ),
)


def like(name: str, **changes: object) -> Plant:
    traits = {"native_north_america": "yes", "native_regions": ("midwest",), **changes}
    return replace(
        TARGET,
        plant_id=PlantId(name),
        accepted_name=name,
        traits=replace(TARGET.traits, **traits),  # type: ignore[arg-type]
    )


def facts(
    plant: Plant,
    outcome: Outcome = "no-entry-found",
    escape: str | None = "low",
    coverage: str = "complete",
    **more: object,
) -> CandidateFacts:
    return CandidateFacts(plant, outcome, coverage, escape, **more)  # type: ignore[arg-type]


def test_a_like_native_comes_before_a_liker_stranger() -> None:
    native = like("native", height_cm=Range(50, 100))
    stranger = like("stranger", native_north_america="no", native_regions=())
    found = substitutes(TARGET, [facts(stranger), facts(native)], "midwest")
    assert [each.plant_id for each in found.offered] == ["native", "stranger"]
    assert found.offered[0].native_here is True
    assert found.offered[1].native_here is False
    assert found.offered[1].distance_high <= found.offered[0].distance_high


def test_without_a_region_likeness_alone_decides() -> None:
    near, far = like("near"), like("far", height_cm=Range(20, 50))
    found = substitutes(TARGET, [facts(far), facts(near)], None)
    assert [each.plant_id for each in found.offered] == ["near", "far"]
    assert {each.native_here for each in found.offered} == {None}


def test_it_says_what_is_alike_what_differs_and_what_its_answer_rests_on() -> None:
    (only,) = substitutes(
        TARGET, [facts(like("one", uses=("foliage",)), coverage="partial")], "midwest"
    ).offered
    assert "growth emergent" in only.alike
    assert any("foliage instead of" in words for words in only.differs)
    assert any("held in part only" in line for line in only.rests_on)
    assert any("not to every place in it" in line for line in only.rests_on)


def test_an_undetermined_plant_stands_apart_and_says_so() -> None:
    found = substitutes(
        TARGET, [facts(like("open"), "undetermined")], None, target_outcome="prohibited"
    )
    assert found.offered == ()
    (open_,) = found.unsettled
    assert not open_.settled
    assert any("undetermined" in line for line in open_.rests_on)
    assert "open one" in found.statement


def test_a_plant_whose_escape_was_not_worked_out_stands_apart() -> None:
    found = substitutes(TARGET, [facts(like("unworked"), escape=None)], None)
    assert found.offered == ()
    assert [each.escape for each in found.unsettled] == [None]


@pytest.mark.parametrize(
    ("candidate", "reason"),
    [
        (facts(TARGET), "the same plant"),
        (facts(replace(like("sub"), parent_id=TARGET.plant_id)), "the same plant"),
        (
            facts(replace(like("cross"), hybrid_parents=(TARGET.plant_id,))),
            "a hybrid of the same plant",
        ),
        (facts(like("entered"), "listed-other-acts"), "an entry was found for it"),
        (facts(like("banned"), "prohibited"), "an entry was found for it"),
        (facts(like("runaway"), escape="high"), "a high chance of escape here"),
        (facts(like("drowns"), fits="does-not-fit"), "does not fit the position"),
        (
            facts(like("other", growth_form="submerged")),
            "not alike enough, or too little known of it",
        ),
        (
            facts(Plant(PlantId("blank"), "Blank", "species", "Blank")),
            "not alike enough, or too little known of it",
        ),
    ],
)
def test_what_is_left_out_and_why(candidate: CandidateFacts, reason: str) -> None:
    found = substitutes(TARGET, [candidate], "midwest", target_outcome="prohibited")
    assert found.offered == found.unsettled == ()
    assert found.left_out == ((reason, 1),)
    assert "native-plant nursery" in found.statement


CANDIDATES = st.builds(
    facts,
    st.builds(
        like,
        st.text("abcdef", min_size=1, max_size=4),
        height_cm=st.builds(
            lambda low, more: Range(low, low + more), st.floats(5, 150), st.floats(0, 100)
        ),
        native_regions=st.sampled_from([(), ("midwest",), ("southeast",)]),
    ),
    st.sampled_from(OUTCOMES),
    st.sampled_from([None, "low", "moderate", "high"]),
    st.sampled_from(["complete", "partial", "none"]),
)


@given(st.lists(CANDIDATES, max_size=12), st.sampled_from(OUTCOMES))
@settings(max_examples=120)
def test_a_substitute_never_has_a_stricter_finding_than_what_it_replaces(
    candidates: list[CandidateFacts], outcome: Outcome
) -> None:
    found = substitutes(TARGET, candidates, "midwest", target_outcome=outcome, most=12)
    for each in (*found.offered, *found.unsettled):
        assert OUTCOMES.index(each.outcome) >= OUTCOMES.index(outcome)
        assert each.escape != "high"
    assert {each.outcome for each in found.offered} <= {"no-entry-found"}
    for each in found.unsettled:
        assert any("undetermined" in line or "not worked out" in line for line in each.rests_on)
    natives = [each.native_here for each in found.offered]
    assert natives == sorted(natives, reverse=True, key=bool)


@given(st.lists(CANDIDATES, max_size=8), st.randoms(use_true_random=False))
@settings(max_examples=40)
def test_the_order_of_candidates_does_not_matter(
    candidates: list[CandidateFacts], random: object
) -> None:
    unique = list({candidate.plant.accepted_name: candidate for candidate in candidates}.values())
    shuffled = unique[:]
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert substitutes(TARGET, unique, "midwest") == substitutes(TARGET, shuffled, "midwest")


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


def test_yellow_flag_is_replaced_by_native_flags_in_the_midwest(library: Library) -> None:
    """Common practice, no source: blue flags stand in for yellow flag."""
    yellow = library.plants[PlantId("iris-pseudacorus")]
    candidates = [facts(plant) for plant in library.plants.values() if plant.catalogued]
    found = substitutes(yellow, candidates, "midwest", target_outcome="prohibited", most=12)
    assert all(each.native_here for each in found.offered)
    assert {"iris-versicolor", "iris-virginica"} & {str(each.plant_id) for each in found.offered}
