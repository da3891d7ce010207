"""Every figure of a full design is worked again from the inputs it states, with pint carrying the
units.

An input or result in the wrong unit, or a formula that does not give the result shown, fails here.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, TypeAlias

import pint
import pytest

from service.containment import Figure
from service.values.quantities import Quantity
from service.values.site import Place, Position
from tests.service.containment.plans import (
    CREEPER,
    FLOATER,
    FULL,
    POND,
    TALL_SEDGE,
    plan_of,
    with_traits,
)

U: Any = pint.UnitRegistry()
Q: TypeAlias = Any
G = U.Quantity(9.80665, "m/s**2")
WATER = U.Quantity(1000, "kg/m**3")
UNITS = {
    "share": "",
    "count": "",
    "ratio": "",
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "m2": "m**2",
    "ha": "hectare",
    "L": "liter",
    "m3": "m**3",
    "kg": "kg",
    "kg/m2": "kg/m**2",
    "kg/m3": "kg/m**3",
    "kg/day": "kg/day",
    "N": "N",
    "N m": "N*m",
    "m/s": "m/s",
    "mm/h": "mm/hour",
    "L/s": "liter/s",
    "m3/s": "m**3/s",
    "cm/week": "cm/week",
    "deg": "degree",
    "days": "day",
    "years": "year",
    "per day": "1/day",
}


def carried(quantity: Quantity, *, high: bool = False) -> Q:
    return U.Quantity(quantity.high if high else quantity.low, UNITS[quantity.unit])


def by_words(figure: Figure, *words: str, high: bool = False) -> list[Q]:
    """The stated inputs whose names hold these words, in pint."""
    found = []
    for word in words:
        given = next(given for given in figure.inputs if word in given.name)
        assert given.quantity is not None
        found.append(carried(given.quantity, high=high))
    return found


def _frustum(f: Figure) -> Q:
    rim, base, height = by_words(f, "rim diameter", "base diameter", "height")
    return math.pi * height * (rim**2 + rim * base + base**2) / 12


def _saturated(f: Figure) -> Q:
    volume, density, shell, plant = by_words(
        f, "volume", "saturated density", "mass of the pot", "wet mass"
    )
    return volume * density + plant + volume * shell * U.Quantity(1, "kg/liter")


def _mesh(f: Figure) -> Q:
    opening, wire = by_words(f, "opening", "wire")
    return (opening / (opening + wire)) ** 2


def _head_loss(blocked: bool) -> Callable[[Figure], Q]:
    def work(f: Figure) -> Q:
        flow, area, share, discharge = by_words(f, "flow", "wetted area", "open share", "discharge")
        left = 1 - by_words(f, "blocked")[0] if blocked else 1
        return (flow / (discharge * area * share * left)) ** 2 / (2 * G)

    return work


def _runoff(f: Figure) -> Q:
    rain, retention = by_words(f, "rain", "retention")
    return (rain - 0.2 * retention) ** 2 / (rain + 0.8 * retention)


def _peak(f: Figure) -> Q:
    coefficient, intensity, ground = by_words(f, "coefficient", "intensity", "catchment")
    return coefficient * intensity * ground + intensity * U.Quantity(POND.area_m2, "m**2")


def _crest(f: Figure) -> Q:
    (flow,) = by_words(f, "peak flow")
    return (flow / (0.85 * (2 / 3) ** 1.5 * G**0.5 * U.Quantity(2, "m"))) ** (2 / 3)


def _lift(f: Figure) -> Q:
    density, uptake, reserve = by_words(f, "density", "uptake", "share of the foam")
    return (WATER * (1 - uptake) - density) * reserve


def _total(f: Figure) -> Q:
    return sum(
        by_words(f, "water that the foam", "pots and soil", "plants at full"),
        by_words(f, "foam")[0],
    )


def _wind(f: Figure) -> Q:
    gust, height, solidity, drag, air = by_words(f, "gust", "height", "outline", "drag", "air")
    return 0.5 * air * drag * (U.Quantity(2, "m") * height * solidity) * gust**2


def _anchor(f: Figure) -> Q:
    pull, friction, concrete = by_words(f, "pull", "friction", "concrete")
    friction, concrete = by_words(f, "friction")[0], by_words(f, "density of concrete")[0]
    return pull / (friction * G * (1 - WATER / concrete))


def _logistic(f: Figure) -> Q:
    end, start = by_words(f, "f1", "f0")
    (rate,) = by_words(f, "growth rate", high=True)
    return math.log(end * (1 - start) / (start * (1 - end))) / rate


WORK: dict[str, Callable[[Figure], Q]] = {
    "volume of the pot": _frustum,
    "saturated weight of one pot": _saturated,
    "weight of its soil under water": lambda f: (
        by_words(f, "volume")[0] * (by_words(f, "density")[0] - WATER)
    ),
    "length of sheet": lambda f: sum(by_words(f, "overlap"), by_words(f, "length")[0]),
    "area of sheet": lambda f: (
        by_words(f, "length")[0] * (by_words(f, "depth")[0] + by_words(f, "rim above")[0])
    ),
    "open share of the screen": _mesh,
    "wetted area of the screen": lambda f: by_words(f, "flow")[0] / by_words(f, "approach")[0],
    "head loss, clean": _head_loss(False),
    "head loss, half blocked": _head_loss(True),
    "days until half blocked": lambda f: (
        U.Quantity(5 / 0.06 / 1000, "m**2")
        * by_words(f, "blocks half")[0]
        / by_words(f, "litter a day")[0]
    ),
    "retention S of the catchment": lambda f: (
        U.Quantity(25400, "mm") / by_words(f, "curve")[0] - U.Quantity(254, "mm")
    ),
    "runoff depth Q": _runoff,
    "rise of the water": lambda f: by_words(f, "water brought")[0] / by_words(f, "surface")[0],
    "room below the crest": lambda f: by_words(f, "freeboard")[0] * by_words(f, "surface")[0],
    "peak flow to the spillway": _peak,
    "water over the crest": _crest,
    "hole": lambda f: (
        by_words(f, "at the rim")[0]
        - (by_words(f, "at the rim")[0] - by_words(f, "at the base")[0])
        * by_words(f, "above the deck")[0]
        / by_words(f, "pot height")[0]
    ),
    "lift counted on": _lift,
    "wind force on the plants": _wind,
    "concrete block on each line": _anchor,
    "days between trims of the edge": lambda f: (
        by_words(f, "growth allowed")[0] / by_words(f, "reach", high=True)[0]
    ),
    "reach beyond the edge, untrimmed": lambda f: (
        by_words(f, "reach")[0] * by_words(f, "season")[0]
    ),
    "growth rate r": lambda f: math.log(2) / by_words(f, "doubling", high=True)[0],
    "days between harvests": _logistic,
    "days to the first harvest": _logistic,
    "wet mass of one harvest": lambda f: math.prod(by_words(f, "surface", "share", "wet mass")),
    "area inside the ring": lambda f: math.prod(by_words(f, "surface", "share")),
    "diameter of the ring": lambda f: 2 * (by_words(f, "area")[0] / math.pi) ** 0.5,
    "length of boom to buy": lambda f: math.pi * math.prod(by_words(f, "diameter", "bought")),
}


def _figures() -> dict[str, Figure]:
    in_pots = Position(crown_depth_cm=0, holding="basket", soil="aquatic-clay")
    in_ground = Position(crown_depth_cm=0, holding="open-ground")
    bog = Place("Invented Bog", "bog", area_m2=20, outlet=False, bank_contact=True)
    plans = [
        plan_of(),
        plan_of(FLOATER, position=Position(holding="floating-ring")),
        plan_of(position=in_pots),
        plan_of(TALL_SEDGE, position=in_pots),
        plan_of(TALL_SEDGE, bog, in_ground),
        plan_of(with_traits(CREEPER, spread_rate="slow")),
        plan_of(request=replace(FULL, catchment_area_m2=0, curve_number=None)),
    ]
    return {
        figure.name: figure
        for plan in plans
        for measure in plan.measures
        for figure in measure.figures
    }


@pytest.mark.parametrize("name", sorted(WORK))
def test_the_figure_follows_from_its_inputs(name: str) -> None:
    figure = _figures()[name]
    result = WORK[name](figure).to(UNITS[figure.result.unit])
    assert float(result.magnitude) == pytest.approx(figure.result.low, rel=1e-6)


def test_every_figure_names_a_formula_and_a_source_and_has_a_unit_that_pint_knows() -> None:
    figures = _figures()
    assert len(figures) > 40
    for figure in figures.values():
        assert figure.formula, figure.name
        assert figure.sources, figure.name
        assert all(figure.sources), figure.name
        for quantity in [
            figure.result,
            *(given.quantity for given in figure.inputs if given.quantity),
        ]:
            U.parse_units(UNITS[quantity.unit])
