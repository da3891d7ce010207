"""Growth of cover against published doubling times and an integrator."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from service.values.growth import (
    days_between_shares,
    doubling_days,
    growth_rate_per_day,
    logistic_share,
)
from tests.checks import inputs, rows

CURVATURE = math.log(2 + math.sqrt(3))
"""r times the days from midpoint to a point of fastest curvature of the logistic curve
(identity, 1.31696).
"""


@pytest.mark.parametrize(
    "row", rows("engineering_growth.csv"), ids=lambda row: f"{row['quantity']} {row['inputs']}"
)
def test_published_growth(row: dict[str, str]) -> None:
    found = _worked(row["quantity"], inputs(row["inputs"]))
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row[
        "citation"
    ]


def _worked(quantity: str, given_: dict[str, float]) -> float:
    if quantity == "doubling":
        return doubling_days(given_["rate"])
    if quantity == "weekly":
        # nearly bare water, where the logistic law is the exponential one
        return logistic_share(1e-9, given_["rate"], 7) / 1e-9
    if quantity == "pistia-doubling":
        return doubling_days(CURVATURE / given_["curvature_spacing"])
    if quantity == "pistia-mass":
        rate = CURVATURE / given_["curvature_spacing"]
        start = logistic_share(0.5, -rate, given_["midpoint"])
        return given_["capacity"] * logistic_share(start, rate, given_["day"])
    rate = growth_rate_per_day(given_["doubling"])
    if quantity == "between":
        return days_between_shares(given_["start"], given_["end"], rate)
    assert quantity == "exponential"
    return math.log(given_["end"] / given_["start"]) / rate


@pytest.mark.parametrize(
    ("start", "doubling", "days"), [(0.05, 7, 60), (0.2, 1.34, 20), (0.01, 19.8, 365), (0.9, 3, 30)]
)
def test_the_closed_form_is_what_an_integrator_finds(
    start: float, doubling: float, days: float
) -> None:
    """dN/dt = r N (1 - N), integrated by scipy's Dormand-Prince method."""
    rate = growth_rate_per_day(doubling)
    times = np.linspace(0, days, 7)
    path = solve_ivp(
        lambda _, share: rate * share * (1 - share),
        (0, days),
        [start],
        t_eval=times,
        rtol=1e-10,
        atol=1e-12,
    )
    closed = [logistic_share(start, rate, time) for time in times]
    assert closed == pytest.approx(path.y[0], abs=1e-8)


@pytest.mark.parametrize(
    "row",
    [
        row
        for row in rows("growth_rates.csv")
        if row["quantity"] == "doubling_days" and row["value_min"] and row["value_max"]
    ],
    ids=lambda row: f"{row['species']} {row['value_min']}-{row['value_max']}",
)
def test_a_published_doubling_time_doubles_sparse_cover(row: dict[str, str]) -> None:
    """At low density cover doubles in the published time; the source stands in the row's
    citation.
    """
    for end in (row["value_min"], row["value_max"]):
        rate = growth_rate_per_day(float(end))
        assert logistic_share(1e-6, rate, float(end)) == pytest.approx(2e-6, rel=1e-5), row[
            "citation"
        ]


@given(st.floats(0.01, 0.98), st.floats(0.5, 60), st.floats(0.1, 400))
def test_time_and_share_are_inverse(start: float, doubling: float, days: float) -> None:
    rate = growth_rate_per_day(doubling)
    end = logistic_share(start, rate, days)
    if end < 0.999999:
        assert days_between_shares(start, end, rate) == pytest.approx(days, abs=1e-4, rel=1e-4)


@given(st.floats(0.01, 0.9), st.floats(1, 30), st.floats(1.01, 3))
def test_slower_doubling_never_shortens_the_wait(
    start: float, doubling: float, factor: float
) -> None:
    end = min(0.99, start * 1.05)
    fast = days_between_shares(start, end, growth_rate_per_day(doubling))
    assert days_between_shares(start, end, growth_rate_per_day(doubling * factor)) >= fast


def test_full_and_empty_cover_stay_as_they_are() -> None:
    assert logistic_share(0, 0.1, 100) == 0
    assert logistic_share(1, 0.1, 100) == 1


@pytest.mark.parametrize(
    "call",
    [
        lambda: growth_rate_per_day(0),
        lambda: days_between_shares(0, 0.5, 1),
        lambda: logistic_share(1.2, 1, 1),
    ],
)
def test_figures_without_meaning_are_turned_away(call: object) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=r"above zero|endless|between 0 and 1"):
        call()
