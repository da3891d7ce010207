"""The coefficients of the escape model, read from ``parameters.toml`` and checked.

This is the one module of the package that reads a file.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal, Self, get_args

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator

from service.errors import BadFile
from service.escape.interval import Interval
from service.escape.values import Propagule
from service.values.plants import Provenance
from service.values.quantities import Unit
from service.values.site import EscapeRoute, ExitRoute
from service.values.vocabulary import (
    FrostKill,
    GrowthForm,
    HowKnown,
    MeasureKind,
    SpreadMode,
    WaterKind,
)
from service.values.workings import Coefficient

CoefficientDirection = Literal["raises", "lowers", "either"]
"""Whether more of a coefficient never lowers the result, never raises it, or may do either."""

FILE_NAME = "parameters.toml"

HISTORY_TERMS = ("regions", "invasive", "native", "height", "aquatic", "rate")
"""Terms of the score of a plant's history and ways, see ``history``."""

_PROPAGULES: tuple[Propagule, ...] = (*get_args(SpreadMode), "whole-plant")
_ROUTES: tuple[EscapeRoute, ...] = (*get_args(ExitRoute), "surplus")
_WATER_KINDS: tuple[WaterKind, ...] = get_args(WaterKind)


@dataclass(frozen=True, slots=True, eq=False)
class Parameters:
    """All coefficients by dotted key (``carry.outlet.seed``), and the direction each works in.

    Compared and hashed by identity, so that what is worked out from one set can be kept beside it.
    """

    coefficients: Mapping[str, Coefficient]
    directions: Mapping[str, CoefficientDirection]

    def coefficient(self, key: str) -> Coefficient:
        return self.coefficients[key]

    def interval(self, key: str) -> Interval:
        """The range of a coefficient that is a chance."""
        coefficient = self.coefficients[key]
        return Interval(coefficient.low, coefficient.high)

    def span(self, key: str) -> tuple[float, float]:
        """Low and high end of a coefficient in its own unit."""
        coefficient = self.coefficients[key]
        return coefficient.low, coefficient.high

    def value(self, key: str) -> float:
        """The value of a coefficient that is a convention of the method."""
        return self.coefficients[key].value

    def keys_under(self, group: str) -> tuple[str, ...]:
        """Last parts of the keys in ``group``, in the order of the file."""
        start = f"{group}."
        return tuple(key.removeprefix(start) for key in self.coefficients if key.startswith(start))

    def changed(self, key: str, low: float, high: float) -> "Parameters":
        """The same set but for the range of one coefficient."""
        old = self.coefficients[key]
        new = Coefficient(
            old.key, old.name, (low + high) / 2, low, high, old.unit, old.known, old.why
        )
        return Parameters({**self.coefficients, key: new}, self.directions)


class _Cell(BaseModel):
    """One coefficient of the file."""

    model_config = ConfigDict(extra="forbid", strict=False, allow_inf_nan=False)

    low: float
    high: float
    best: float | None = None
    why: str
    how_known: HowKnown | None = None
    source: str | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.low <= (self.low if self.best is None else self.best) <= self.high:
            raise ValueError(f"low {self.low}, best {self.best}, high {self.high} are out of order")
        if not self.why.strip():
            raise ValueError("says nothing of why")
        return self


class _Group(BaseModel):
    """What a table of the file says for all of its coefficients."""

    model_config = ConfigDict(extra="forbid", strict=False)

    about: str
    unit: Unit
    direction: CoefficientDirection
    how_known: HowKnown
    source: str = ""


@cache
def default_parameters() -> Parameters:
    """The coefficients that ship with the package."""
    text = resources.files("service.escape").joinpath(FILE_NAME).read_text(encoding="utf-8")
    return read_parameters(text)


def read_parameters(text: str, *, file: str = FILE_NAME) -> Parameters:
    """Coefficients from the text of a parameter file.

    Raises:
        BadFile: names the table and entry that is unreadable, missing, not known, or out of range.
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadFile(file, str(error)) from error
    coefficients: dict[str, Coefficient] = {}
    directions: dict[str, CoefficientDirection] = {}
    for path, table in _groups(tables):
        group = _group(file, path, table)
        for key, cell in table.items():
            if isinstance(cell, dict):
                coefficients[f"{path}.{key}"] = _coefficient(file, f"{path}.{key}", group, cell)
                directions[f"{path}.{key}"] = group.direction
    _check_complete(file, coefficients)
    return Parameters(coefficients, directions)


def _groups(
    tables: Mapping[str, object], path: str = ""
) -> Iterator[tuple[str, dict[str, object]]]:
    for key, table in tables.items():
        here = f"{path}.{key}" if path else key
        if not isinstance(table, dict):
            continue
        if "unit" in table:
            yield here, table
        else:
            yield from _groups(table, here)


def _group(file: str, path: str, table: dict[str, object]) -> _Group:
    try:
        return _Group.model_validate(
            {key: entry for key, entry in table.items() if not isinstance(entry, dict)}
        )
    except ValidationError as error:
        raise _bad(file, path, error) from error


def _coefficient(file: str, key: str, group: _Group, table: dict[str, object]) -> Coefficient:
    try:
        cell = _Cell.model_validate(table)
    except ValidationError as error:
        raise _bad(file, key, error) from error
    how_known = cell.how_known or group.how_known
    source = group.source if cell.source is None else cell.source
    if (how_known == "common-practice") == bool(source):
        raise BadFile(
            file, "a source goes with every coefficient except one of common practice", place=key
        )
    if group.unit == "share" and not 0 <= cell.low <= cell.high <= 1:
        raise BadFile(
            file, f"a share lies between 0 and 1, not {cell.low} to {cell.high}", place=key
        )
    value = (cell.low + cell.high) / 2 if cell.best is None else cell.best
    name = f"{group.about}: {key.rsplit('.', 1)[-1]}"
    return Coefficient(
        key, name, value, cell.low, cell.high, group.unit, Provenance(how_known, source), cell.why
    )


def _bad(file: str, place: str, error: ValidationError) -> BadFile:
    first = error.errors()[0]
    field = ".".join(str(part) for part in first["loc"])
    return BadFile(file, first["msg"], place=f"{place}.{field}" if field else place)


def _check_complete(file: str, coefficients: Mapping[str, Coefficient]) -> None:
    measures = {key for key in coefficients if key.startswith("measure.")}
    expected = set(_expected())
    missing = sorted(expected - coefficients.keys())
    if missing:
        raise BadFile(file, f"has no {missing[0]}", place=missing[0])
    unknown = sorted(coefficients.keys() - expected - measures)
    if unknown:
        raise BadFile(file, f"no part of the model reads {unknown[0]}", place=unknown[0])
    _check_measures(file, measures)


def _check_measures(file: str, keys: set[str]) -> None:
    kinds: tuple[MeasureKind, ...] = get_args(MeasureKind)
    for key in sorted(keys):
        _, kind, route, propagule = key.split(".")
        if (
            kind not in kinds
            or route not in {*_ROUTES, "all"}
            or propagule not in {*_PROPAGULES, "all"}
        ):
            raise BadFile(file, "names a measure, route or propagule that is not known", place=key)
    without = [
        kind for kind in kinds if not any(key.startswith(f"measure.{kind}.") for key in keys)
    ]
    if without:
        raise BadFile(file, f"says nothing of {without[0]}", place=f"measure.{without[0]}")


def _expected() -> Iterator[str]:
    for route in _ROUTES:
        yield from _keys(f"carry.{route}", _PROPAGULES)
    for group in ("propagule_size", "reach.drift", "reach.carried", "reach.creep", "founding"):
        yield from _keys(group, _PROPAGULES)
    yield from _keys("classes", ("moderate_from", "high_from"))
    yield from _keys(
        "open.chance",
        ("closed", "storm", "flood", "bank", "lined_bank", "visited", "unvisited", "surplus"),
    )
    yield from (
        "open.flow.half",
        "open.flow_unknown.ordinary",
        "open.area.half",
        "open.area_unknown.ordinary",
    )
    yield from ("sampling.shared.rho", "reach.given.all", "reach.unmapped.all")
    yield from ("reach.sheet.overflow", "reach.sheet.flood", "reach.still_water.passed")
    yield from _keys("winter.shift", [kind for kind in get_args(FrostKill) if kind != "unknown"])
    yield from _keys("winter.spread", ("cold", "warm"))
    yield from _keys("winter.bank", ("seed", "spore", "turion", "tuber", "bulbil", "annual"))
    yield from (
        "winter.bank_margin.margin",
        "winter.unknown_zone.coldest",
        "winter.unknown_zone.frost_killed",
    )
    yield from ("warm.shift.margin", "warm.floor.beyond", "warm.unknown_zone.warmest")
    yield from ("season.needed.days", "season.middle.day", "season.unknown.days")
    for group in ("habitat.depth", "habitat.open_light", "habitat.shade"):
        yield from _keys(group, _WATER_KINDS)
    for form in get_args(GrowthForm):
        yield from _keys(f"habitat.form.{form}", _WATER_KINDS)
    yield from ("habitat.unknown_depth.least", "habitat.any_light.match")
    yield from _keys("habitat.flow", ("same", "one-step", "two-steps"))
    yield from _keys("history.weight", ("intercept", *HISTORY_TERMS))
    yield from _keys("history.range", HISTORY_TERMS)
    yield from ("history.listing.score", "history.error.score", "history.away.share")
    yield from _keys("presence", ("water", "ring-1", "ring-2", "ring-3", "ring-4"))
    yield from _keys("presence_age", ("years", "unstated"))


def _keys(group: str, keys: tuple[str, ...] | list[str]) -> Iterator[str]:
    return (f"{group}.{key}" for key in keys)
