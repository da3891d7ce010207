"""Plants, names and counties of a build, and what went into it."""

import json
import sqlite3
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from service.geography.counties import COUNTY_KINDS, County, CountyKind, CountyTable
from service.names import NameRecord, WetlandName
from service.values.nativity import StateRecord
from service.values.plants import History, Plant, Provenance, Range, Traits
from service.values.vocabulary import CountyFips, Jurisdiction, PlantId

_RANGES = ("height_cm", "depth_cm", "doubling_days")
_LISTS = ("flow", "light", "native_regions", "wetland_indicator", "spread_modes", "uses")


def read_plants(connection: sqlite3.Connection) -> dict[PlantId, Plant]:
    """Every plant of the build, by id."""
    parents: dict[str, list[PlantId]] = {}
    for hybrid, parent in connection.execute(
        "SELECT plant_id, parent_id FROM hybrid_parent ORDER BY plant_id, parent_id"
    ):
        parents.setdefault(hybrid, []).append(PlantId(parent))
    records: dict[str, dict[Jurisdiction, StateRecord]] = {}
    for name, state, status, source, how_known in connection.execute(
        "SELECT n.name, state, status, source, how_known FROM native_status n "
        "JOIN plant ON plant.accepted_name = n.name ORDER BY n.name, state"
    ):
        record = StateRecord(status, sys.intern(source), how_known)
        records.setdefault(name, {})[Jurisdiction(state)] = record
    rows = connection.execute("SELECT * FROM plant ORDER BY plant_id")
    return {
        PlantId(row["plant_id"]): _plant(
            row, tuple(parents.get(row["plant_id"], ())), records.get(row["accepted_name"], {})
        )
        for row in rows
    }


def read_names(connection: sqlite3.Connection) -> Iterator[NameRecord]:
    """Every name of the built-in catalogue and of the lists, in the order they were loaded."""
    for row in connection.execute("SELECT * FROM name ORDER BY name_id"):
        yield NameRecord(
            row["name"],
            row["kind"],
            PlantId(row["plant_id"]),
            row["note"],
            sys.intern(row["source_id"]),
            row["sense"],
            tuple(row["also"].split(";")) if row["also"] else (),
        )


def read_wetland_names(connection: sqlite3.Connection) -> Iterator[WetlandName]:
    """Names of wetland plants beyond the catalogue, by name."""
    for row in connection.execute("SELECT * FROM wetland_name ORDER BY name"):
        yield WetlandName(
            row["name"],
            row["rank"],
            tuple(row["wetland_indicator"].split(";")) if row["wetland_indicator"] else (),
            row["native_states"],
        )


def _plant(
    row: sqlite3.Row,
    hybrid_parents: tuple[PlantId, ...],
    state_records: Mapping[Jurisdiction, StateRecord],
) -> Plant:
    return Plant(
        plant_id=PlantId(row["plant_id"]),
        accepted_name=row["accepted_name"],
        rank=row["rank"],
        genus=row["genus"],
        authorship=row["authorship"],
        family=row["family"],
        parent_id=PlantId(row["parent_id"]) if row["parent_id"] else None,
        hybrid_parents=hybrid_parents,
        catalogued=bool(row["catalogued"]),
        traits=_traits(json.loads(row["traits"])),
        provenance={
            column: Provenance(how_known, source)
            for column, (how_known, source) in json.loads(row["provenance"]).items()
        },
        state_records=state_records,
    )


def _traits(stored: dict[str, Any]) -> Traits:
    ranges = {key: Range(*stored[key]) for key in _RANGES if key in stored}
    lists = {key: tuple(stored[key]) for key in _LISTS if key in stored}
    history = {"history": History(**stored["history"])} if "history" in stored else {}
    return Traits(**{**stored, **ranges, **lists, **history})


_KINDS: dict[str, CountyKind] = {kind: kind for kind in COUNTY_KINDS}


def read_counties(connection: sqlite3.Connection) -> CountyTable:
    """Every county of the store."""
    return CountyTable(
        read_county(row) for row in connection.execute("SELECT fips, state, name, kind FROM county")
    )


def read_county(row: sqlite3.Row) -> County:
    """A county from a row with ``fips``, ``state``, ``name`` and ``kind``."""
    return County(
        CountyFips(row["fips"]), Jurisdiction(row["state"]), row["name"], _KINDS[row["kind"]]
    )


@dataclass(frozen=True, slots=True)
class Source:
    """A file or download that went into the build.

    Attributes:
        rows_read, rows_kept: of its records.
        set_apart: counts of the records not kept, by reason.
    """

    source_id: str
    kind: str
    title: str
    version: str
    licence: str
    citation: str
    url: str
    sha256: str
    rows_read: int
    rows_kept: int
    set_apart: Mapping[str, int]


def read_sources(connection: sqlite3.Connection) -> tuple[Source, ...]:
    """Every source, by kind and id."""
    rows = connection.execute("SELECT * FROM source ORDER BY kind, source_id")
    return tuple(
        Source(
            source_id=row["source_id"],
            kind=row["kind"],
            title=row["title"],
            version=row["version"],
            licence=row["licence"],
            citation=row["citation"],
            url=row["url"],
            sha256=row["sha256"],
            rows_read=row["rows_read"],
            rows_kept=row["rows_kept"],
            set_apart=_set_apart(json.loads(row["report"])),
        )
        for row in rows
    )


def _set_apart(report: dict[str, Any]) -> dict[str, int]:
    """Counts by reason; loaders that report more than counts keep them under ``set_apart``."""
    counts = report.get("set_apart", report)
    return {reason: count for reason, count in counts.items() if isinstance(count, int)}
