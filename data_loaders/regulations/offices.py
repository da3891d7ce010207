"""The offices to ask, by state and topic, from ``offices.csv``."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from data_loaders.build import Draft, file_sha256
from data_loaders.plants.rows import Row, read_rows
from data_loaders.regulations.listfile import Address, valid_jurisdiction
from data_loaders.regulations.load import FOLDER
from service.errors import BadFile
from service.regulation.law import Topic

FILE = "offices.csv"


class OfficeRow(Row):
    """A row of ``offices.csv``; ``url_known`` is ``memory`` for an address that was not opened."""

    jurisdiction: Annotated[str, BeforeValidator(valid_jurisdiction)]
    topic: Topic
    name: Annotated[str, Field(min_length=1)]
    url: Address
    url_known: Literal["read", "memory"]


def read_offices(folder: Path = FOLDER) -> list[OfficeRow]:
    """The rows of the file, checked.

    Raises:
        BadFile: an office that is not valid, or two for one topic of a jurisdiction.
    """
    rows = list(read_rows(folder / FILE, OfficeRow))
    seen: set[tuple[str, Topic]] = set()
    for number, row in enumerate(rows, start=2):
        if (row.jurisdiction, row.topic) in seen:
            raise BadFile(
                FILE,
                f"{row.jurisdiction} has two offices for {row.topic}.",
                place=f"row {number}",
                next_step="Keep one.",
            )
        seen.add((row.jurisdiction, row.topic))
    return rows


def add_offices(draft: Draft, folder: Path = FOLDER) -> None:
    """Put the offices into a draft."""
    rows = read_offices(folder)
    draft.db.table("law_office").insert_all(row.model_dump() for row in rows)
    draft.expect_count("law_office", len(rows))
    draft.db.table("source").insert(
        {
            "source_id": "reference-offices",
            "kind": "reference",
            "title": "Offices to ask about plant law, by state and topic",
            "sha256": file_sha256(folder / FILE),
            "rows_read": len(rows),
            "rows_kept": len(rows),
        }
    )
