"""What is known of the plants outside their native range, from ``plants/traits``."""

import csv
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from service.errors import BadFile
from service.values.plants import History

HISTORY_SOURCE = (
    "Country checklists of the global register of introduced and invasive species, lists of the "
    "United States left out (CC BY 4.0); Manual of the Alien Plants of Belgium (CC0)"
)
"""Cited for the counts of regions."""

_Count = Annotated[int, Field(ge=0)]
_NO_CHECKLIST_NAME = ("no (garden group, not a checklist name)", "no vascular-plant list")


def _blank(cell: object) -> object:
    return None if cell == "" else cell


class HistoryRow(BaseModel):
    """The columns of ``history.csv`` that are read; the others are for people."""

    model_config = ConfigDict(extra="ignore", str_strip_whitespace=True)

    accepted_name: Annotated[str, Field(min_length=1)]
    like_climate_regions: _Count
    open_like_climate_regions: Annotated[int, Field(ge=1)]
    tropical_regions: _Count
    invasive_regions: _Count
    name_searchable: str
    sterile: Annotated[
        Literal["no", "some clones", "mostly", "yes"] | None, BeforeValidator(_blank)
    ]


def read_histories(folder: Path) -> dict[str, History]:
    """By accepted name. A taxon whose name no checklist could hold has none: its 0 is unknown.

    Raises:
        BadFile: names the row and column that cannot be used.
    """
    travels = {
        row["taxon"]: float(row["value"]) >= 0.5
        for row in _rows(folder / "measured.csv")
        if row["trait"] == "pieces_travel"
    }
    found = {}
    for number, cells in enumerate(_rows(folder / "history.csv"), start=2):
        try:
            row = HistoryRow.model_validate(cells)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            raise BadFile(
                "history.csv", first["msg"], place=f"row {number}, column {first['loc'][0]}"
            ) from error
        if row.name_searchable in _NO_CHECKLIST_NAME:
            continue
        found[row.accepted_name] = History(
            like_climate_regions=row.like_climate_regions,
            open_regions=row.open_like_climate_regions,
            tropical_regions=row.tropical_regions,
            invasive_regions=row.invasive_regions,
            pieces_travel=travels.get(row.accepted_name),
            sterile=row.sterile,
        )
    return found


def _rows(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))
