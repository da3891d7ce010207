"""The data files of this package: weights of likeness, what is sold, how to tell plants apart."""

from collections.abc import Mapping
from functools import cache
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from service.values.workings import read_data

Dimension = Literal["form", "height", "depth", "flow", "light", "season", "use"]
TradeLevel = Literal[0, 1, 2, 3]
"""Sold by restoration and native-plant nurseries alone, by specialists, often, widely."""


class Weights(BaseModel):
    """The weights file."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    limit: float = Field(gt=0, le=1)
    form_limit: float = Field(gt=0, le=1)
    height_factor: float = Field(gt=1)
    height_most: float = Field(gt=1)
    depth_cm: float = Field(gt=0)
    trade_step: float = Field(ge=0, lt=0.2)
    zones: float = Field(gt=0)
    weights: dict[Dimension, float]
    form: dict[str, float]

    @model_validator(mode="after")
    def _weights_make_one(self) -> Self:
        if abs(sum(self.weights.values()) - 1) > 1e-9:
            raise ValueError(f"the weights add up to {sum(self.weights.values())}, not 1")
        return self


class _Trade(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    widely: frozenset[str]
    often: frozenset[str]
    by_specialists: frozenset[str]
    by_restoration_nurseries: frozenset[str]


class _Line(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    offered: frozenset[str]
    barred: frozenset[str]
    text: str


class _Lines(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    line: tuple[_Line, ...]


@cache
def weights() -> Weights:
    """The weights of likeness."""
    return read_data(__package__, "weights.toml", Weights)


@cache
def trade_levels() -> Mapping[str, TradeLevel]:
    """How commonly a native plant is sold, by accepted name; one that is not in it is not sold."""
    trade = read_data(__package__, "trade.toml", _Trade)
    levels: dict[str, TradeLevel] = dict.fromkeys(trade.by_restoration_nurseries, 0)
    levels |= dict.fromkeys(trade.by_specialists, 1)
    levels |= dict.fromkeys(trade.often, 2)
    levels |= dict.fromkeys(trade.widely, 3)
    return levels


def tell_apart(offered: str, barred: str) -> str:
    """One line on how to tell a plant from a barred one, by accepted names; empty where none is
    known.

    >>> tell_apart("Lythrum alatum", "Lythrum salicaria").startswith("Its flowers are single")
    True
    """
    lines = _read_lines().line
    return next(
        (line.text for line in lines if offered in line.offered and barred in line.barred), ""
    )


@cache
def _read_lines() -> _Lines:
    return read_data(__package__, "tell_apart.toml", _Lines)
