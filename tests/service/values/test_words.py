"""Distances are written one way, in metres and feet of the same length."""

import re

from hypothesis import given
from hypothesis import strategies as st

from service.values.words import distance


def test_a_distance_is_in_whole_metres_and_whole_feet() -> None:
    assert distance(12.7) == "13 m (42 ft)"


@given(st.floats(min_value=0, max_value=999))
def test_feet_come_from_the_metres_as_given_and_not_as_rounded(metres: float) -> None:
    written = re.fullmatch(r"([\d,]+) m \(([\d,]+) ft\)", distance(metres))
    assert written
    whole, feet = (int(number.replace(",", "")) for number in written.groups())
    assert abs(whole - metres) <= 0.5
    assert abs(feet - metres / 0.3048) <= 0.5 + 1e-9  # one foot is 0.3048 m by definition
