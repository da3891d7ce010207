"""State native status into the store, from ``native_states.csv`` and what is kept by hand beside
it.
"""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from data_loaders.build import Draft, file_sha256
from data_loaders.plants.rows import FOLDER, Row, read_rows, separated
from service.errors import BadFile
from service.values.vocabulary import STATES, HowKnown

FILE = "native_states.csv"
ADDED = "native_states_added.csv"
_TABLES = {
    "2016": "table nativeNWCA_2016",
    "2011": "table ccNatNWCA (2011)",
}
_PACKAGE = "US EPA aquametNWCA data (R package, commit d4978c7)"


class NativeStatesRow(Row):
    """A row of ``native_states.csv``: the states in which a taxon has one status by one code.

    ``code`` is the survey's: NAT native, CRYP native and introduced plants both, ADV native
    elsewhere in North America, INTR introduced.
    """

    name: Annotated[str, Field(min_length=1)]
    name_in_source: str
    status: Literal["native", "both", "introduced"]
    table: Literal["2011", "2016"]
    code: Literal["NAT", "CRYP", "ADV", "INTR"]
    note: str
    states: Annotated[tuple[str, ...], BeforeValidator(separated)]

    @property
    def how_known(self) -> HowKnown:
        """The tables were read."""
        return "read"

    @property
    def source(self) -> str:
        """Where the status was read, in words."""
        words = f"{_PACKAGE}, {_TABLES[self.table]}, code {self.code}"
        under = f"under the name {self.name_in_source}" if self.name_in_source else ""
        return "; ".join(part for part in (words, under, self.note) if part)


class AddedStatesRow(Row):
    """A row of ``native_states_added.csv``, which people keep by hand: what the surveys did not
    meet, with where it was read or that it is from memory.
    """

    name: Annotated[str, Field(min_length=1)]
    status: Literal["native", "both", "introduced"]
    how_known: Literal["read", "memory"]
    source: Annotated[str, Field(min_length=1)]
    states: Annotated[tuple[str, ...], BeforeValidator(separated)]


def read_native_states(folder: Path = FOLDER) -> list[NativeStatesRow | AddedStatesRow]:
    """The rows of both files, checked.

    Raises:
        BadFile: a state that is not one, or a state given twice for a taxon.
    """
    of_survey = list(read_rows(folder / FILE, NativeStatesRow))
    by_hand = list(read_rows(folder / ADDED, AddedStatesRow))
    seen: set[tuple[str, str]] = set()
    several: list[tuple[str, int, NativeStatesRow | AddedStatesRow]] = [
        *((FILE, number, survey) for number, survey in enumerate(of_survey, start=2)),
        *((ADDED, number, added) for number, added in enumerate(by_hand, start=2)),
    ]
    for file, number, row in several:
        for state in row.states:
            place = f"row {number}, column states"
            if f"US-{state}" not in STATES:
                raise BadFile(file, f"{state!r} is not a state.", place=place)
            if (row.name, state) in seen:
                raise BadFile(file, f"{state} is given twice for {row.name}.", place=place)
            seen.add((row.name, state))
    return [*of_survey, *by_hand]


def add_native_states(draft: Draft, folder: Path = FOLDER) -> None:
    """Put the state records into a draft, those of taxa beyond the catalogue too."""
    rows = read_native_states(folder)
    records = [
        (row.name, f"US-{state}", row.status, row.source, row.how_known)
        for row in rows
        for state in row.states
    ]
    draft.connection.executemany("INSERT INTO native_status VALUES (?, ?, ?, ?, ?)", records)
    draft.db.table("source").insert(
        {
            "source_id": "native-states",
            "kind": "reference",
            "title": "Native status of wetland plants by state, survey tables of 2011 and 2016",
            "version": "2011, 2016",
            "licence": "public domain (a work of the US government)",
            "citation": f"{_PACKAGE}, tables nativeNWCA_2016 and ccNatNWCA; states added by hand "
            "name their own source; a state without a record is one where the survey did not meet "
            "the plant",
            "sha256": file_sha256(folder / FILE),
            "rows_read": len(records),
            "rows_kept": len(records),
        }
    )
    draft.expect_count("native_status", len(records))
