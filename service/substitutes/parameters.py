"""The data files of this package: weights of likeness, and the region of each state."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from service.errors import BadFile
from service.values.vocabulary import Jurisdiction

Dimension = Literal["form", "height", "depth", "flow", "light", "season", "use"]


class Weights(BaseModel):
    """The weights file."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    limit: float = Field(gt=0, le=1)
    form_limit: float = Field(gt=0, le=1)
    height_factor: float = Field(gt=1)
    depth_cm: float = Field(gt=0)
    zones: float = Field(gt=0)
    weights: dict[Dimension, float]
    form: dict[str, float]

    @model_validator(mode="after")
    def _weights_make_one(self) -> Self:
        if abs(sum(self.weights.values()) - 1) > 1e-9:
            raise ValueError(f"the weights add up to {sum(self.weights.values())}, not 1")
        return self


@cache
def weights() -> Weights:
    """The weights of likeness."""
    try:
        return Weights.model_validate(tomllib.loads(_text("weights.toml")))
    except (tomllib.TOMLDecodeError, ValidationError) as error:
        raise BadFile("weights.toml", str(error)) from error


@cache
def _region_by_state() -> Mapping[Jurisdiction, str]:
    regions: dict[str, list[str]] = tomllib.loads(_text("regions.toml"))
    return {Jurisdiction(state): region for region, states in regions.items() for state in states}


def region_of(state: Jurisdiction) -> str | None:
    """Region of the catalogue's native range in which the state lies: ``US-OH`` -> ``midwest``."""
    return _region_by_state().get(state)


def _text(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")
