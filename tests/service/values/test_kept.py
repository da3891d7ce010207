"""What is kept stays within its bound, and is right whoever asks at once."""

import sys
from concurrent.futures import ThreadPoolExecutor

from hypothesis import given
from hypothesis import strategies as st

from service.values.kept import Kept


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(1, 12))), st.integers(2, 40))
def test_the_weights_of_what_is_kept_never_pass_the_bound(
    put: list[tuple[int, int]], most: int
) -> None:
    kept, weights = Kept[int, int](most), dict[int, int]()
    for key, weight in put:
        weight = weights.setdefault(key, weight)
        if kept.get(key, weight) is None:
            kept.put(key, key, weight)
        held = {key for key in weights if key in kept._young or key in kept._old}
        assert sum(weights[key] for key in held) <= most
        assert all(kept.get(key, weights[key]) in (key, None) for key in held)


def test_what_is_asked_for_stays_and_what_nobody_asks_for_goes() -> None:
    kept = Kept[int, str](10)
    for number in range(100):
        kept.put(number, str(number))
        kept.get(0)
    assert (kept.get(0), kept.get(50), kept.get(99)) == ("0", None, "99")


def test_threads_that_share_what_is_kept_get_the_value_of_their_own_key() -> None:
    kept = Kept[int, int](4)

    def asked(number: int) -> int:
        found = kept.get(number % 7)
        if found is None:
            found = number % 7
            kept.put(found, found)
        return found

    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(4) as pool:
            assert list(pool.map(asked, range(4_000))) == [number % 7 for number in range(4_000)]
    finally:
        sys.setswitchinterval(before)
