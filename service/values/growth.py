"""Growth of cover: exponential at first, logistic toward the full surface.

Verhulst's logistic law, N = K / (1 + ((K - N0)/N0) exp(-r t)), with cover as the share f = N/K; the
time from one share to another is t = ln(f1 (1 - f0) / (f0 (1 - f1))) / r. Doubling time at low
density is ln 2 / r.
"""

import math
from collections.abc import Mapping
from functools import cache

from service.values.vocabulary import GrowthForm
from service.values.workings import Coefficient, read_coefficients


def growth_rate_per_day(doubling_days: float) -> float:
    """Intrinsic rate r, per day, from the doubling time at low density: r = ln 2 / Td.

    >>> round(growth_rate_per_day(7), 3)
    0.099
    """
    if doubling_days <= 0:
        raise ValueError(f"a doubling time must be above zero: {doubling_days}")
    return math.log(2) / doubling_days


def doubling_days(rate_per_day: float) -> float:
    """Doubling time at low density from the intrinsic rate: Td = ln 2 / r."""
    if rate_per_day <= 0:
        raise ValueError(f"a growth rate must be above zero: {rate_per_day}")
    return math.log(2) / rate_per_day


def logistic_share(start_share: float, rate_per_day: float, days: float) -> float:
    """Share of the surface covered after ``days``. A share of 0 stays 0 and of 1 stays 1."""
    _check_share(start_share)
    if start_share in (0.0, 1.0):
        return start_share
    return 1 / (1 + (1 - start_share) / start_share * math.exp(-rate_per_day * days))


def days_between_shares(start_share: float, end_share: float, rate_per_day: float) -> float:
    """Days in which logistic growth goes from one cover to a larger one, both inside (0, 1).

    >>> round(days_between_shares(0.1, 0.5, growth_rate_per_day(7)), 1)
    22.2
    """
    for share in (start_share, end_share):
        _check_share(share)
        if share in (0.0, 1.0):
            raise ValueError("logistic growth leaves 0 and reaches 1 only in endless time")
    if end_share < start_share:
        raise ValueError(f"cover grows from {start_share}, not down to {end_share}")
    return math.log(end_share * (1 - start_share) / (start_share * (1 - end_share))) / rate_per_day


def _check_share(share: float) -> None:
    if not 0 <= share <= 1:
        raise ValueError(f"a share lies between 0 and 1: {share}")


def least_pot(form: GrowthForm | None, height_cm: float) -> Coefficient:
    """Least volume in litres: by height class for what stands up, one size for floating leaves
    and one for waterweeds.
    """
    if form == "floating-leaved":
        return _classes()["lily"]
    if form == "submerged":
        return _classes()["low"]
    for limit_cm, key in ((30, "low"), (90, "middling"), (180, "tall")):
        if height_cm <= limit_cm:
            return _classes()[key]
    return _classes()["very_tall"]


@cache
def _classes() -> Mapping[str, Coefficient]:
    return read_coefficients("service.values", "pots.toml")
