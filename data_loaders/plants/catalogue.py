"""The plant catalogue and its names into the store, with the genera and families above them."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from data_loaders.build import Draft, file_sha256
from data_loaders.plants.history import HISTORY_SOURCE, read_histories
from data_loaders.plants.rows import FOLDER, Row, blank, read_rows, separated
from data_loaders.plants.taxa import formula_parents, genus_of, plant_id_of, species_above, tidy
from service.errors import BadFile
from service.names import NameKind, NameRecord, NameSense
from service.values.plants import History
from service.values.vocabulary import (
    Flow,
    FrostKill,
    GrowthForm,
    Light,
    Nativeness,
    PlantId,
    Rank,
    SpreadMode,
    SpreadRate,
)

NAME_FILES = ("names.csv", "names_added.csv")
"""The converted names, and those that people keep by hand, which go before them."""

Number = Annotated[float | None, BeforeValidator(blank)]
Zone = Annotated[Annotated[int, Field(ge=1, le=13)] | None, BeforeValidator(blank)]


class PlantRow(Row):
    """A row of ``plants.csv``.

    Depth, height and doubling time are ranges; a cell alone is both ends.
    """

    accepted_name: Annotated[str, Field(min_length=1)]
    authorship: str
    family: Annotated[str, Field(pattern=r"^[A-Z][a-z]+aceae$")]
    rank: Rank
    growth_form: GrowthForm
    height_cm_min: Number
    height_cm_max: Number
    depth_cm_min: Number
    depth_cm_max: Number
    flow: Annotated[tuple[Flow, ...], BeforeValidator(separated)]
    light: Annotated[tuple[Light, ...], BeforeValidator(separated)]
    zone_min: Zone
    zone_max: Zone
    native_north_america: Nativeness
    native_regions: Annotated[tuple[str, ...], BeforeValidator(separated)]
    wetland_indicator: Annotated[
        tuple[Literal["OBL", "FACW", "FAC", "FACU", "UPL"], ...], BeforeValidator(separated)
    ]
    spread_rate: SpreadRate
    spread_modes: Annotated[tuple[SpreadMode, ...], BeforeValidator(separated)]
    perennating_organ: str
    doubling_days_min: Number
    doubling_days_max: Number
    frost_kill: FrostKill
    hazards: str
    uses: Annotated[tuple[str, ...], BeforeValidator(separated)]
    how_known: Literal["read", "common practice"]
    source: str


def _strict_where_blank(cell: object) -> object:
    return "strict" if cell == "" else cell


class NameRow(Row):
    """A row of ``names.csv`` or ``names_added.csv``: columns as in ``service.names.NameRecord``."""

    name: Annotated[str, Field(min_length=1)]
    kind: NameKind
    accepted_name: str
    sense: Annotated[NameSense, BeforeValidator(_strict_where_blank)]
    also: Annotated[tuple[str, ...], BeforeValidator(separated)]
    note: str

    @property
    def key(self) -> tuple[str, str, str]:
        """One name of one kind for one taxon."""
        return self.name, self.kind, self.accepted_name


class CellSource(Row):
    """A row of ``cell_sources.csv``."""

    accepted_name: str
    column: str
    source: str


class HybridRow(Row):
    """A row of ``hybrids.csv``."""

    hybrid: str
    parent: str
    how_known: Literal["read", "memory"]


@dataclass(frozen=True)
class Catalogue:
    """The catalogue files, read and checked."""

    plants: tuple[PlantRow, ...]
    names: tuple[NameRow, ...]
    cell_sources: tuple[CellSource, ...]
    hybrids: tuple[HybridRow, ...]


def read_catalogue(folder: Path = FOLDER) -> Catalogue:
    """Read and check the catalogue.

    Raises:
        BadFile: names the file, the row and the column; or a name of a plant that is not there.
    """
    catalogue = Catalogue(
        tuple(read_rows(folder / "plants.csv", PlantRow)),
        _names(folder),
        tuple(read_rows(folder / "cell_sources.csv", CellSource)),
        tuple(read_rows(folder / "hybrids.csv", HybridRow)),
    )
    known = {row.accepted_name for row in catalogue.plants}
    for file in NAME_FILES:
        for number, name in enumerate(read_rows(folder / file, NameRow), start=2):
            if name.accepted_name not in known:
                raise BadFile(
                    file,
                    f"{name.accepted_name!r} is not a plant of plants.csv.",
                    place=f"row {number}, column accepted_name",
                )
    return catalogue


def _names(folder: Path) -> tuple[NameRow, ...]:
    """The names of all files; a row of a later file goes before the same name of an earlier one."""
    rows = {row.key: row for file in NAME_FILES for row in read_rows(folder / file, NameRow)}
    return tuple(rows.values())


def add_catalogue(draft: Draft, folder: Path = FOLDER) -> None:
    """Put plants, names, genera and families into the draft."""
    catalogue = read_catalogue(folder)
    for kind, files, rows in (
        ("plants", ("plants.csv",), len(catalogue.plants)),
        ("names", NAME_FILES, len(catalogue.names)),
    ):
        draft.db.table("source").insert(
            {
                "source_id": f"reedgate-{kind}",
                "kind": kind,
                "title": "Plant catalogue" if kind == "plants" else "Names of the plant catalogue",
                "licence": "Apache-2.0",
                "citation": "The source of each cell is given with the plant; a cell without one "
                "is common practice.",
                "sha256": file_sha256(*(folder / file for file in files)),
                "rows_read": rows,
                "rows_kept": rows,
            }
        )
    sources = _provenance(catalogue.cell_sources)
    histories = read_histories(folder / "traits")
    family_of_genus = {genus_of(row.accepted_name): row.family for row in catalogue.plants}
    known = {row.accepted_name for row in catalogue.plants}
    for family in sorted({row.family for row in catalogue.plants}):
        add_taxon(draft, family, "family", genus="", family=family, parent=None)
    for genus, family in sorted(family_of_genus.items()):
        add_taxon(draft, genus, "genus", genus=genus, family=family, parent=plant_id_of(family))
    for row in catalogue.plants:
        species = species_above(row.accepted_name)
        above = species if species in known else genus_of(row.accepted_name)
        history = histories.get(row.accepted_name)
        cells = dict(sources.get(row.accepted_name, {}))
        if history is not None:
            cells["history"] = ["read", HISTORY_SOURCE]
        draft.db.table("plant").insert(_plant(row, plant_id_of(above), cells, history))
    add_names(
        draft,
        (
            NameRecord(
                row.name,
                row.kind,
                plant_id_of(row.accepted_name),
                row.note,
                "reedgate-names",
                row.sense,
                row.also,
            )
            for row in catalogue.names
        ),
    )
    draft.expect_count("plant", len(catalogue.plants), where="catalogued")


def add_hybrids(draft: Draft, folder: Path = FOLDER) -> None:
    """Parents of hybrids, named ones from ``hybrids.csv``, formulas from their own words; after
    all lists are in.
    """
    ids = {row["plant_id"]: tidy(row["accepted_name"]) for row in draft.db.table("plant").rows}
    pairs = {
        (plant_id_of(row.hybrid), plant_id_of(row.parent)) for row in read_catalogue(folder).hybrids
    }
    pairs |= {
        (PlantId(plant_id), plant_id_of(parent))
        for plant_id, name in ids.items()
        for parent in formula_parents(name)
    }
    draft.db.table("hybrid_parent").insert_all(
        (
            {"plant_id": hybrid, "parent_id": parent}
            for hybrid, parent in sorted(pairs)
            if hybrid in ids and parent in ids
        ),
    )


def add_taxon(
    draft: Draft, name: str, rank: Rank, *, genus: str, family: str, parent: PlantId | None
) -> PlantId:
    """A taxon with its name alone."""
    plant_id = plant_id_of(name)
    draft.db.table("plant").insert(
        {
            "plant_id": plant_id,
            "accepted_name": name,
            "rank": rank,
            "genus": genus,
            "family": family,
            "parent_id": parent,
            "catalogued": 0,
        }
    )
    add_names(draft, [NameRecord(name, "accepted", plant_id, source_id="reedgate-names")])
    return plant_id


def add_names(draft: Draft, names: Iterable[NameRecord]) -> None:
    """Put names into the draft."""
    draft.db.table("name").insert_all(
        {
            "name": record.name,
            "kind": record.kind,
            "plant_id": record.plant_id,
            "sense": record.sense,
            "also": ";".join(record.also),
            "note": record.note,
            "source_id": record.source_id,
        }
        for record in names
    )


def _plant(
    row: PlantRow, parent: PlantId, provenance: dict[str, list[str]], history: History | None
) -> dict[str, Any]:
    return {
        "plant_id": plant_id_of(row.accepted_name),
        "accepted_name": row.accepted_name,
        "authorship": row.authorship,
        "rank": row.rank,
        "genus": genus_of(row.accepted_name),
        "family": row.family,
        "parent_id": parent,
        "catalogued": 1,
        "traits": json.dumps(_traits(row) | _history(history), ensure_ascii=False),
        "provenance": json.dumps(provenance, ensure_ascii=False),
    }


def _traits(row: PlantRow) -> dict[str, Any]:
    traits: dict[str, Any] = {
        "growth_form": row.growth_form,
        "height_cm": _range(row.height_cm_min, row.height_cm_max),
        "depth_cm": _range(row.depth_cm_min, row.depth_cm_max),
        "doubling_days": _range(row.doubling_days_min, row.doubling_days_max),
        "zone_min": row.zone_min,
        "zone_max": row.zone_max,
        "native_north_america": row.native_north_america,
        "spread_rate": row.spread_rate,
        "perennating_organ": row.perennating_organ,
        "frost_kill": row.frost_kill,
        "hazards": row.hazards,
        **{
            column: list(getattr(row, column))
            for column in (
                "flow",
                "light",
                "native_regions",
                "wetland_indicator",
                "spread_modes",
                "uses",
            )
        },
    }
    return {key: value for key, value in traits.items() if value not in (None, "", [])}


def _history(history: History | None) -> dict[str, Any]:
    return {} if history is None else {"history": asdict(history)}


def _range(low: float | None, high: float | None) -> list[float] | None:
    ends = [end for end in (low, high) if end is not None]
    return [min(ends), max(ends)] if ends else None


def _provenance(cells: Iterable[CellSource]) -> dict[str, dict[str, list[str]]]:
    found: dict[str, dict[str, list[str]]] = {}
    for cell in cells:
        found.setdefault(cell.accepted_name, {})[cell.column] = ["read", cell.source]
    return found


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
