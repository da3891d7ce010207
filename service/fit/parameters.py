"""The coefficient file of this package."""

from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from service.values.workings import Coefficient, read_coefficients


@cache
def coefficients() -> Mapping[str, Coefficient]:
    """Every constant of fit and cover, by key."""
    text = files(__package__).joinpath("coefficients.toml").read_text(encoding="utf-8")
    return read_coefficients("coefficients.toml", text)
