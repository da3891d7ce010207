"""Reading the plant tables: rows as checked values, errors with file, row and column."""

import csv
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from service.errors import BadFile

FOLDER = Path(str(files("data_loaders.reference").joinpath("plants")))


class Row(BaseModel):
    """A row of a plant table; a column that the model does not name is refused."""

    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True)


def separated(cell: object) -> object:
    """The values of a cell, separated by semicolons."""
    if not isinstance(cell, str):
        return cell
    return tuple(value.strip() for value in cell.split(";") if value.strip())


def blank(cell: object) -> object:
    """None for an empty cell."""
    return None if cell == "" else cell


_R = TypeVar("_R", bound=Row)


def read_rows(path: Path, model: type[_R]) -> Iterator[_R]:
    """The rows of a table in UTF-8, comma-separated, with a heading.

    Raises:
        BadFile: names the file, and the row and column of the first wrong cell.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            rows = list(csv.DictReader(stream))
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(path.name, f"it cannot be read as UTF-8 text: {error}") from error
    for number, row in enumerate(rows, start=2):
        try:
            yield model.model_validate(row)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            column = str(first["loc"][0]) if first["loc"] else "?"
            raise BadFile(
                path.name,
                f"{first['msg']} (found {first['input']!r})",
                place=f"row {number}, column {column}",
            ) from error
