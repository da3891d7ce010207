"""Names of wetland plants beyond the catalogue into the store, from ``wetland_names.csv``."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from data_loaders.build import Draft, file_sha256
from data_loaders.plants.rows import FOLDER, Row, blank, read_rows, separated
from service.values.vocabulary import Rank

FILE = "wetland_names.csv"


class WetlandNameRow(Row):
    """A row of ``wetland_names.csv``; ``native_states`` counts states, empty is not stated."""

    name: Annotated[str, Field(min_length=1)]
    rank: Literal["species", "infraspecific", "hybrid"]
    wetland_indicator: Annotated[
        tuple[Literal["OBL", "FACW", "FAC", "FACU", "UPL"], ...], BeforeValidator(separated)
    ]
    native_states: Annotated[int | None, BeforeValidator(blank)]
    survey: str

    @property
    def taxon_rank(self) -> Rank:
        """The rank that the name's own marks say."""
        if self.rank != "infraspecific":
            return self.rank
        return "variety" if " var. " in self.name else "subspecies"


def add_wetland_names(draft: Draft, folder: Path = FOLDER) -> None:
    """Put the names into a draft.

    Raises:
        BadFile: names the row and column of the first wrong cell.
    """
    rows = list(read_rows(folder / FILE, WetlandNameRow))
    draft.connection.executemany(
        "INSERT INTO wetland_name VALUES (?, ?, ?, ?)",
        [
            (row.name, row.taxon_rank, ";".join(row.wetland_indicator), row.native_states)
            for row in rows
        ],
    )
    draft.db.table("source").insert(
        {
            "source_id": "wetland-names",
            "kind": "reference",
            "title": "Names of wetland plants beyond the catalogue, survey tables of 2011 and 2016",
            "version": "2011, 2016",
            "licence": "public domain (a work of the US government)",
            "citation": "US EPA aquametNWCA data (R package, commit d4978c7)",
            "sha256": file_sha256(folder / FILE),
            "rows_read": len(rows),
            "rows_kept": len(rows),
        }
    )
    draft.expect_count("wetland_name", len(rows))
