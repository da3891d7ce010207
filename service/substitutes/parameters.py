"""The data file of this package: weights of likeness."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from service.errors import BadFile

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


def _text(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")
