"""The coefficient file of this package."""

from collections.abc import Mapping
from functools import cache

from service.values.workings import Coefficient, read_coefficients


@cache
def coefficients() -> Mapping[str, Coefficient]:
    """Every constant of fit and cover, by key."""
    return read_coefficients(__package__, "coefficients.toml")
