"""A user's own words on how the columns of a waters file are to be read.

As a TOML file:

    layer = "ponds"             # only this layer
    id = "pond_no"              # a column with an identifier; row numbers otherwise
    name = "title"
    kind = "type"               # a column, with the meaning of its values below
    kinds = { P = "pond", M = "wetland", C = "stream" }
    default_kind = "pond"       # where the column is missing or empty
    downstream_id = "runs_to"   # a column with the id of the line that follows
    crs = "EPSG:26917"          # in place of what the file states
    swap_axes = false           # true when latitude stands first
"""

import tomllib
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from data_loaders.geography.features import Reading
from service.errors import BadFile
from service.input.json_document import parse_toml
from service.values.vocabulary import Flow, WaterKind

MappedKind = WaterKind | Literal["path", "connector", "none"]
"""A kind of water; or a line through a wide water, a pipe between waters, nothing to load."""


class WaterMapping(BaseModel):
    """Which column of a layer means what. Column names in any case."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    layer: str | None = None
    data_set: str | None = Field(
        default=None, pattern=r"^[a-z0-9][a-z0-9-]*$", description="Prefix of the identifiers."
    )
    id: str | None = None
    name: str | None = None
    kind: str | None = None
    kinds: dict[str, MappedKind] = {}
    default_kind: MappedKind | None = None
    flow: str | None = None
    flows: dict[str, Flow] = {}
    downstream_id: str | None = None
    from_node: str | None = None
    to_node: str | None = None
    crs: str | None = None
    swap_axes: bool = False

    @property
    def columns(self) -> tuple[str, ...]:
        """Every column that the mapping names."""
        named = (
            self.id,
            self.name,
            self.kind,
            self.flow,
            self.downstream_id,
            self.from_node,
            self.to_node,
        )
        return tuple(column for column in named if column)

    @property
    def reading(self) -> Reading:
        return Reading(self.crs, self.swap_axes)


def read_mapping(path: Path) -> WaterMapping:
    """Read a mapping file.

    Raises:
        BadFile: not TOML, or a key or value that is not known.
    """
    try:
        return WaterMapping.model_validate(parse_toml(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadFile(path.name, f"it cannot be read as TOML ({error}).") from error
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"])
        raise BadFile(
            path.name,
            f"{first['msg']}.",
            place=place,
            next_step="See the keys in the documentation of mappings.",
        ) from error
