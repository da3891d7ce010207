"""The least pot that a water plant of some height grows well in."""

from collections.abc import Mapping
from functools import cache

from service.values.vocabulary import GrowthForm
from service.values.workings import Coefficient, read_coefficients


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
