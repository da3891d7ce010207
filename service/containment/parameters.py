"""The data files of this package: coefficients, and which measure holds which way of spreading."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from pydantic import BaseModel, ConfigDict

from service.containment.values import Strength
from service.values.site import ExitRoute, Holding, PlaceKind
from service.values.vocabulary import GrowthForm, MeasureKind, SpreadMode
from service.values.workings import Coefficient, read_coefficients, read_data


@dataclass(frozen=True, slots=True)
class MeasureRule:
    """Where a measure can stand, and how well it holds each (way of spreading, exit route).

    ``holdings`` are the ways of setting the plant where it is worth offering; empty is any.
    """

    kind: MeasureKind
    title: str
    forms: tuple[GrowthForm, ...]
    places: tuple[PlaceKind, ...]
    holdings: tuple[Holding, ...]
    strengths: Mapping[tuple[SpreadMode, ExitRoute], Strength]
    limits: tuple[str, ...]


class _Hold(BaseModel):
    model_config = ConfigDict(extra="forbid")

    ways: tuple[SpreadMode, ...]
    routes: tuple[ExitRoute, ...]
    strength: Strength


class _Measure(BaseModel):
    model_config = ConfigDict(extra="forbid")

    title: str
    forms: tuple[GrowthForm, ...]
    places: tuple[PlaceKind, ...]
    holdings: tuple[Holding, ...] = ()
    hold: tuple[_Hold, ...] = ()
    limits: tuple[str, ...]


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid")

    routes_of_way: dict[SpreadMode, tuple[ExitRoute, ...]]
    measure: dict[MeasureKind, _Measure]


@cache
def coefficients() -> Mapping[str, Coefficient]:
    """Every constant of the designs, by key."""
    return read_coefficients(__package__, "coefficients.toml")


@cache
def foams() -> Mapping[str, tuple[Coefficient, Coefficient]]:
    """Foam by its name in the request: density and long-term water uptake."""
    read = read_coefficients(__package__, "foams.toml")
    names = sorted({key.removesuffix("_density").removesuffix("_uptake") for key in read})
    return {
        name.replace("_", "-"): (read[f"{name}_density"], read[f"{name}_uptake"]) for name in names
    }


@cache
def measure_rules() -> tuple[MeasureRule, ...]:
    """The measures in the order of the data file."""
    return tuple(
        MeasureRule(
            kind=kind,
            title=measure.title,
            forms=measure.forms,
            places=measure.places,
            holdings=measure.holdings,
            strengths={
                (way, route): hold.strength
                for hold in measure.hold
                for way in hold.ways
                for route in hold.routes
            },
            limits=measure.limits,
        )
        for kind, measure in _measures().measure.items()
    )


@cache
def routes_of_way() -> Mapping[SpreadMode, tuple[ExitRoute, ...]]:
    """The exit routes that each way of spreading can take."""
    return _measures().routes_of_way


@cache
def _measures() -> _File:
    return read_data(__package__, "measures.toml", _File)
