"""The caution file of this package."""

from functools import cache
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, model_validator

from service.values.data_file import read_data
from service.values.site import PlaceKind
from service.values.vocabulary import HowKnown, MeasureKind, SpreadMode

Scope = Literal["plant", "measure", "site", "general"]
Danger = Literal["deep", "moving", "ice", "visited", "flood"]
Work = Literal[MeasureKind, "herbicide", "pump"]
"""The measures of containment, and two kinds of work beside them."""


class Entry(BaseModel):
    """One caution of the file with its conditions."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str
    scope: Scope
    text: str
    how_known: HowKnown
    source: str = ""
    hazards: tuple[str, ...] = ()
    genera: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    modes: tuple[SpreadMode, ...] = ()
    measures: tuple[Work, ...] = ()
    places: tuple[PlaceKind, ...] = ()
    when: Danger | None = None

    @model_validator(mode="after")
    def _one_sourced_line(self) -> Self:
        if "\n" in self.text or not self.text.endswith("."):
            raise ValueError("a caution is one line that ends in a full stop")
        if (self.how_known == "common-practice") == bool(self.source):
            raise ValueError("a source goes with every caution except one of common practice")
        return self


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid")

    caution: tuple[Entry, ...]


@cache
def entries() -> tuple[Entry, ...]:
    """Every caution, in the order of the file."""
    return read_data(__package__, "cautions.toml", _File).caution
