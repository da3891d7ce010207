import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.escape.interval import CERTAIN, IMPOSSIBLE, UNKNOWN, Interval, noisy_or, product, union

chances = st.floats(0, 1)
intervals = st.tuples(chances, chances).map(lambda ends: Interval(min(ends), max(ends)))
_ROOM = 1e-12


def within(inner: Interval, outer: Interval) -> bool:
    return outer.low - _ROOM <= inner.low and inner.high <= outer.high + _ROOM


@pytest.mark.parametrize(
    ("low", "high"), [(-0.1, 0.5), (0.5, 1.1), (0.6, 0.5), (float("nan"), 0.5)]
)
def test_an_interval_outside_zero_to_one_or_backwards_is_refused(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="not an interval of chances"):
        Interval(low, high)


def test_the_arithmetic_by_hand() -> None:
    a, b = Interval(0.2, 0.5), Interval(0.1, 0.4)
    assert a * b == Interval(0.2 * 0.1, 0.5 * 0.4)
    assert noisy_or((a, b)) == Interval(1 - 0.8 * 0.9, 1 - 0.5 * 0.6)
    assert a | b == Interval(0.1, 0.5)
    assert a & b == Interval(0.2, 0.4)
    assert product(()) == CERTAIN
    assert noisy_or(()) == IMPOSSIBLE


def test_an_intersection_of_what_does_not_meet_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing common"):
        _ = Interval(0.0, 0.1) & Interval(0.2, 0.3)


def test_something_else_than_a_chance_does_not_lie_within() -> None:
    assert "half" not in UNKNOWN
    assert 0.5 in UNKNOWN


@given(st.lists(intervals, max_size=5))
def test_products_and_noisy_or_stay_within_zero_to_one(several: list[Interval]) -> None:
    assert product(several) in UNKNOWN
    assert noisy_or(several) in UNKNOWN


@given(intervals, intervals, intervals)
def test_a_wider_operand_never_gives_a_narrower_result(
    a: Interval, b: Interval, c: Interval
) -> None:
    wider = a | c
    assert within(a * b, wider * b)
    assert within(noisy_or((a, b)), noisy_or((wider, b)))
    assert within(union((a, b)), union((wider, b)))


@given(intervals, intervals, chances, chances)
def test_every_pair_of_chances_within_lands_within(
    a: Interval, b: Interval, s: float, t: float
) -> None:
    x, y = a.low + s * a.width, b.low + t * b.width
    x, y = min(max(x, a.low), a.high), min(max(y, b.low), b.high)
    assert within(Interval.point(x * y), a * b)
    assert within(Interval.point(1 - (1 - x) * (1 - y)), noisy_or((a, b)))


@given(intervals, intervals)
def test_noisy_or_is_the_complement_of_both_missing(a: Interval, b: Interval) -> None:
    either = Interval(1 - (1 - a.low) * (1 - b.low), 1 - (1 - a.high) * (1 - b.high))
    assert within(noisy_or((a, b)), either)
    assert within(either, noisy_or((a, b)))
