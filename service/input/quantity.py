"""Numbers as people write them, with their units, in SI.

``24 in``, ``2 ft 6 in``, ``1 1/2 in``, ``0.5 acre``, ``5 gal``, ``20 gpm``, ``12 plugs``.
"""

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache

_Sizes = Mapping[tuple[str, ...], float]

_FOOT_M = 0.3048
_GALLON_L = 3.785411784
_LENGTHS_M: _Sizes = {
    ("mm", "millimetre", "millimeter"): 0.001,
    ("cm", "centimetre", "centimeter"): 0.01,
    ("m", "metre", "meter"): 1.0,
    ("km", "kilometre", "kilometer"): 1000.0,
    ("in", "inch", "inche", '"', "″", "”"): _FOOT_M / 12,
    ("ft", "foot", "feet", "'", "′", "’"): _FOOT_M,
    ("yd", "yard"): 3 * _FOOT_M,
    ("mi", "mile"): 5280 * _FOOT_M,
}
_AREAS_M2: _Sizes = {
    ("m2", "m²", "sq m", "square metre", "square meter"): 1.0,
    ("ft2", "ft²", "sq ft", "sqft", "square foot", "square feet"): _FOOT_M**2,
    ("yd2", "sq yd", "square yard"): 9 * _FOOT_M**2,
    ("acre", "ac"): 4046.8564224,
    ("ha", "hectare"): 10_000.0,
}
_VOLUMES_L: _Sizes = {
    ("l", "litre", "liter"): 1.0,
    ("ml",): 0.001,
    ("m3", "m³", "cubic metre", "cubic meter"): 1000.0,
    ("gal", "gallon"): _GALLON_L,
    ("qt", "quart"): _GALLON_L / 4,
    ("pt", "pint"): _GALLON_L / 8,
    ("cu ft", "ft3", "cubic foot", "cubic feet"): _FOOT_M**3 * 1000,
}
_FLOWS_L_S: _Sizes = {
    ("l/s",): 1.0,
    ("l/min", "lpm"): 1 / 60,
    ("m3/s", "m³/s"): 1000.0,
    ("gpm", "gal/min"): _GALLON_L / 60,
    ("gph", "gal/h"): _GALLON_L / 3600,
    ("cfs", "ft3/s", "cu ft/s"): _FOOT_M**3 * 1000,
}
_MASSES_KG: _Sizes = {
    ("kg",): 1.0,
    ("g",): 0.001,
    ("lb", "pound"): 0.45359237,
    ("oz", "ounce"): 0.028349523125,
}
_SPEEDS_M_S: _Sizes = {
    ("m/s",): 1.0,
    ("km/h", "kph"): 1 / 3.6,
    ("ft/s", "fps"): _FOOT_M,
    ("mph", "mi/h"): 5280 * _FOOT_M / 3600,
}
_RATES_MM_H: _Sizes = {("mm/h", "mm/hr"): 1.0, ("in/h", "in/hr"): _FOOT_M * 1000 / 12}
_PER_AREA_KG_M2: _Sizes = {("kg/m2", "kg/m²"): 1.0, ("lb/sq ft", "psf"): 0.45359237 / _FOOT_M**2}
_PER_DAY_KG: _Sizes = {("kg/day", "kg/d"): 1.0, ("lb/day", "lb/d"): 0.45359237}


def _by_word(table: _Sizes, unit_size: float) -> dict[str, float]:
    return {word: size / unit_size for words, size in table.items() for word in words}


UNITS: dict[str, dict[str, float]] = {
    "mm_h": _by_word(_RATES_MM_H, 1.0),
    "kg_m2": _by_word(_PER_AREA_KG_M2, 1.0),
    "kg_day": _by_word(_PER_DAY_KG, 1.0),
    "l_s": _by_word(_FLOWS_L_S, 1.0),
    "m_s": _by_word(_SPEEDS_M_S, 1.0),
    "m2": _by_word(_AREAS_M2, 1.0),
    "mm": _by_word(_LENGTHS_M, 0.001),
    "cm": _by_word(_LENGTHS_M, 0.01),
    "kg": _by_word(_MASSES_KG, 1.0),
    "l": _by_word(_VOLUMES_L, 1.0),
    "m": _by_word(_LENGTHS_M, 1.0),
}
"""By the ending of a key, longest first: the units that text may have, and their size in it."""

_NUMBER = r"[+-]?(?:\d+\s+\d+/\d+|\d+/\d+|\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d*\.\d+|\d+\.?)"
_PART = re.compile(
    rf"\s*({_NUMBER})\s*([^\d\s+,.-][^\d,]*?[23²³]?)\s*(?=$|,|\s*\d|\band\b)(?:,|and)?"
)
_COUNT = re.compile(
    rf"\s*({_NUMBER})\s*(?:x\s*)?(?:(?:bare[- ]?root|potted|live|small|large)?\s*"
    r"(?:plants?|plugs?|pots?|stems?|bunch(?:es)?|roots?|tubers?|rhizomes?|bulbs?|divisions?|"
    r"starts?|pcs?\.?|pieces?|ea\.?|each|x|no\.?)?)\s*"
)
_SPARE_COUNT = re.compile(r"\s*(?:about|approx\.?|ca\.?|~|qty:?|x)\s*", re.IGNORECASE)


@lru_cache(2_000)
def unit_of(key: str) -> str | None:
    """The unit that a key of a document ends with: ``depth_cm`` is in ``cm``.

    >>> unit_of("outlet_flow_l_s"), unit_of("count")
    ('l_s', None)
    """
    return next((unit for unit in UNITS if key.endswith(f"_{unit}")), None)


def read_quantity(text: str, unit: str) -> float | None:
    """A quantity as text in the unit of a key; None where it is not one.

    >>> round(read_quantity("2 ft 6 in", "cm"), 1), read_quantity('1/2"', "mm")
    (76.2, 12.7)
    >>> read_quantity("deep", "cm") is None
    True
    """
    sizes = UNITS[unit]
    plain = " ".join(text.replace("½", " 1/2").replace("¼", " 1/4").replace("¾", " 3/4").split())
    total, at = 0.0, 0
    sign = 1.0
    while at < len(plain):
        part = _PART.match(plain, at)
        if part is None or part.end() == at:
            return None
        size = _size(part[2], sizes)
        if size is None:
            return None
        value = number(part[1])
        if value is None:
            return None
        if at == 0 and part[1].startswith("-"):
            sign = -1.0
        total += abs(value) * size
        at = part.end()
    return round(sign * total, 9) if plain else None


def read_count(text: str) -> int | None:
    """A whole number of plants, with the word that nurseries put behind it; None where it is not
    one.

    >>> read_count("12 plugs"), read_count("1,200"), read_count("2 flats")
    (12, 1200, None)
    """
    plain = _SPARE_COUNT.sub("", text.strip(), count=1) if _SPARE_COUNT.match(text) else text
    found = _COUNT.fullmatch(plain.casefold())
    value = number(found[1]) if found else None
    return int(value) if value is not None and value == int(value) else None


def number(text: str) -> float | None:
    """A number, a fraction or a mixed number; thousands may be separated by commas.

    >>> number("1 1/2"), number("1,200"), number("x")
    (1.5, 1200.0, None)
    """
    plain = text.strip()
    if not re.fullmatch(_NUMBER, plain):
        return None
    negative, plain = plain.startswith("-"), plain.lstrip("+-").replace(",", "")
    try:
        value = float(sum(Fraction(part) for part in plain.split()))
    except (ValueError, ZeroDivisionError):
        return None
    return -value if negative else value


def _size(word: str, sizes: dict[str, float]) -> float | None:
    plain = word.strip().casefold().rstrip(".")
    for name in (plain, plain.removesuffix("s"), plain.replace(".", "")):
        if name in sizes:
            return sizes[name]
    return None
