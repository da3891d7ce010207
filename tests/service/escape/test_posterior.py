import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import beta

from service.escape.interval import Interval
from service.escape.parameters import default_parameters
from service.escape.posterior import NO_LOOKS, Looks, counts, looks_at, updated
from service.values.evidence import Evidence, WaterRecords
from service.values.vocabulary import PlantId, WaterId
from tests.service.escape.samples import LAKE, annuli, records, ringed

P = default_parameters()
PRIOR = Interval(0.1, 0.6)
NOWHERE = WaterId("elsewhere")


def posterior(
    evidence: Evidence | None, water_id: WaterId = LAKE.water_id, prior: Interval = PRIOR
) -> Interval:
    return updated(prior, looks_at([water_id], evidence, P)[0], P)


def test_a_full_look_by_hand() -> None:
    # prior weight 2 (Walley 1996, J. R. Statist. Soc. B 58:3-57); weights of places: common
    # practice, no source.
    # 600 records of which 12 are the plant: effort 1 - exp(-20), share 0.02 / 0.01 capped at 1,
    # weight 4
    found = posterior(records(12, 600))
    effort = 4 * (1 - math.exp(-600 / 30))
    assert found.low == pytest.approx((2 * 0.1 + effort) / (2 + effort))
    assert found.high == pytest.approx((2 * 0.6 + effort) / (2 + effort))


def test_a_rare_plant_of_a_much_visited_water_counts_in_part() -> None:
    # 1 record among 1,000: share 0.001 / 0.01 = a tenth of a look in four
    found = posterior(records(1, 1_000))
    assert found.low == pytest.approx((2 * 0.1 + 4 * 0.1) / 6, rel=1e-6)


def test_absence_in_a_much_visited_water_counts_against() -> None:
    absent = posterior(records(0, 1_000))
    assert absent.high == pytest.approx(2 * 0.6 / 6, rel=1e-6)
    assert absent.high < PRIOR.high
    assert absent.low < PRIOR.low


def test_absence_in_an_unvisited_water_counts_for_nothing() -> None:
    assert posterior(records(0, 0)) == PRIOR
    assert posterior(ringed([(0, 0)] * 4)) == PRIOR


def test_no_records_loaded_say_nothing_whatever_the_counts() -> None:
    assert posterior(replace(records(5, 100), loaded=False)) == PRIOR
    assert posterior(None) == PRIOR
    assert looks_at([LAKE.water_id], None, P) == (NO_LOOKS,)


def test_the_water_itself_says_more_than_a_neighbour_and_a_neighbour_more_than_a_far_ring() -> None:
    own, beside = posterior(records(5, 100)), posterior(records(5, 100), NOWHERE)
    far = posterior(ringed([(0, 0), (0, 0), (0, 0), (5, 100)]))
    assert own.low > beside.low > far.low > PRIOR.low


def test_a_near_water_off_the_network_says_nothing_of_another() -> None:
    assert posterior(records(5, 100, relation="near"), NOWHERE) == PRIOR


def test_rings_are_taken_apart_so_that_an_inner_record_counts_once() -> None:
    (inner,) = looks_at([NOWHERE], ringed([(5, 100), (0, 0), (0, 0), (0, 0)]), P)
    assert inner.taken == pytest.approx(1.0 * (1 - math.exp(-100 / 30)))


def test_what_is_shown_is_the_count_of_the_water_or_else_of_the_widest_ring() -> None:
    assert counts(LAKE.water_id, records(3, 40)) == (3, 40)
    assert counts(NOWHERE, ringed([(1, 10), (2, 20), (0, 5), (0, 100)])) == (3, 135)
    assert counts(NOWHERE, records(3, 40)) == (0, 0)


priors = st.tuples(st.floats(0, 1), st.floats(0, 1)).map(
    lambda ends: Interval(min(ends), max(ends))
)


@given(annuli, priors)
@settings(max_examples=60, deadline=None)
def test_evidence_never_widens_and_stays_within_zero_to_one(
    found: list[tuple[int, int]], prior: Interval
) -> None:
    after = posterior(ringed(found), prior=prior)
    assert after.width <= prior.width + 1e-12


@given(annuli, st.integers(0, 3), priors)
@settings(max_examples=80, deadline=None)
def test_one_more_record_of_the_plant_never_lowers_it(
    found: list[tuple[int, int]], place: int, prior: Interval
) -> None:
    more = list(found)
    plant, every = more[place]
    more[place] = (plant + 1, max(plant, every) + 1)
    before, after = posterior(ringed(found), prior=prior), posterior(ringed(more), prior=prior)
    assert after.low >= before.low - 1e-12
    assert after.high >= before.high - 1e-12


@given(st.integers(0, 500), st.integers(1, 500), priors)
@settings(max_examples=60, deadline=None)
def test_one_more_visit_that_did_not_find_it_never_raises_it(
    every: int, more: int, prior: Interval
) -> None:
    before, after = (
        posterior(records(0, every), prior=prior),
        posterior(records(0, every + more), prior=prior),
    )
    assert after.low <= before.low + 1e-12
    assert after.high <= before.high + 1e-12


@given(st.floats(0, 10), st.floats(0, 1))
@settings(max_examples=40, deadline=None)
def test_the_posterior_is_that_of_the_beta_distribution(taken: float, share: float) -> None:
    # a beta prior with mean m and weight 2 has parameters 2m and 2(1-m); k finds in n looks give
    # mean (2m+k)/(2+n)
    looks = Looks(taken, taken * share)
    for mean in (PRIOR.low, PRIOR.high):
        exact = beta(2 * mean + looks.found, 2 * (1 - mean) + looks.taken - looks.found).mean()
        after = updated(Interval.point(mean), looks, P)
        assert after.low == pytest.approx(float(exact))


def test_waters_beside_are_pooled() -> None:
    one = WaterRecords(WaterId("a"), "upstream", 1, 50)
    two = WaterRecords(WaterId("b"), "downstream", 0, 50)
    pooled = Evidence(PlantId("x"), loaded=True, waters=(one, two))
    assert looks_at([NOWHERE], pooled, P) == looks_at([NOWHERE], records(1, 100), P)
