"""What lies in a file of occurrence records: an archive with a descriptor, a delimited table, or
Parquet.
"""

import io
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import BinaryIO, Literal

import duckdb
from pydantic import BaseModel, ConfigDict, ValidationError

from data_loaders.archives import (
    Archive,
    is_gzip,
    is_zip,
    open_archive,
    open_data,
    refuse_by_name,
)
from data_loaders.darwin_core import (
    Descriptor,
    Table,
    find_descriptor,
    read_descriptor,
    term_name,
)
from data_loaders.delimited import Dialect, header, rows, sniff
from data_loaders.occurrences.datasets import DatasetText, read_datasets
from data_loaders.occurrences.terms import ALIASES, NAME_TERMS, TERM_INDEX
from service.errors import BadFile, BadRequest

_SNIFF_BYTES = 1 << 20
_TABLE_ENDINGS = (".csv", ".tsv", ".txt", ".tab")
_SHOWN = 15


@dataclass(frozen=True, slots=True)
class CoreTable:
    """The core of an archive whose records are in an extension: its rows fill the empty cells of
    the records that name them. Events take from the events above them.

    Attributes:
        parent: column with the id of the event above, None where there is none.
    """

    path: Path
    members: tuple[str, ...]
    dialect: Dialect
    columns: Mapping[str, int]
    defaults: Mapping[str, str]
    width: int | None
    id_column: int
    parent: int | None

    def part_name(self, member: str) -> str:
        """For messages."""
        return f"{self.path.name}/{member}"


@dataclass(frozen=True, slots=True)
class Reading:
    """How to read a table that does not say it, or says it wrongly.

    Attributes:
        columns: term to the heading of its column.
        defaults: term to the value of its empty cells.
        encoding: of the text.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    defaults: Mapping[str, str] = field(default_factory=dict)
    encoding: str = ""


class _ReadingFile(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    encoding: str = ""
    columns: dict[str, str] = {}
    defaults: dict[str, str] = {}


def read_mapping(path: Path) -> Reading:
    """Read a mapping file::

        encoding = "cp1252"
        [columns]
        scientificName = "Nombre"
        [defaults]
        countryCode = "US"

    Raises:
        BadFile: not TOML, or a key that is not known.
    """
    try:
        read = _ReadingFile.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadFile(path.name, f"it cannot be read as TOML ({error}).") from error
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"])
        raise BadFile(path.name, f"{first['msg']}.", place=place) from error
    return Reading(read.columns, read.defaults, read.encoding)


@dataclass(frozen=True, slots=True)
class RecordTable:
    """One table of occurrence records, in one or more parts.

    Attributes:
        members: of the zip file, in order; empty for a file that is itself the table.
        columns: term in lower case to column index (delimited) or column name (Parquet).
        defaults: term in lower case to the value of empty cells.
        width: columns of every row, None where the file does not say.
        size_bytes: unpacked, as far as the file says.
        fallback_dataset: key for records that name no data set.
        more: further Parquet files of the same columns, which are read with the first as one.
        kinds: of the columns of Parquet.
        core: table that fills empty cells, and ``core_key`` the column that names its row.
        notes: what a person should know of the file, metadata that could not be read say.
    """

    path: Path
    kind: Literal["delimited", "parquet"]
    columns: Mapping[str, int | str]
    fallback_dataset: str
    dialect: Dialect = field(default_factory=Dialect)
    members: tuple[str, ...] = ()
    defaults: Mapping[str, str] = field(default_factory=dict)
    width: int | None = None
    size_bytes: int = 0
    datasets: Mapping[str, DatasetText] = field(default_factory=dict)
    more: tuple[Path, ...] = ()
    kinds: Mapping[str, str] = field(default_factory=dict)
    core: CoreTable | None = None
    core_key: int = 0
    notes: tuple[str, ...] = ()

    def part_name(self, member: str) -> str:
        """For messages."""
        return f"{self.path.name}/{member}" if member else self.path.name


AS_WRITTEN = Reading()


def inspect(path: Path, reading: Reading = AS_WRITTEN) -> RecordTable:
    """Find out what a file holds, without reading its rows.

    Raises:
        BadFile: it is none of the formats, or lacks the terms without which nothing can be kept.
    """
    if not path.is_file():
        raise BadFile(path.name, "there is no such file.")
    if path.stat().st_size == 0:
        raise BadFile(path.name, "it is empty.")
    refuse_by_name(path)
    if is_zip(path):
        with open_archive(path) as archive:
            table = _in_archive(archive, reading)
    elif is_parquet(path):
        table = _parquet(path, reading)
    else:
        with open_data(path) as stream:
            size = path.stat().st_size * (8 if is_gzip(path) else 1)
            table = _delimited(path, stream, reading, size_bytes=size)
    defaults = {_canonical(term): value for term, value in reading.defaults.items()}
    table = replace(table, defaults={**table.defaults, **defaults})
    _require_terms(table)
    return table


def parquet_columns(table: RecordTable) -> dict[str, str]:
    """For each term that the file has an SQL expression that is text and never null."""
    expressions = {}
    for term, column in table.columns.items():
        if isinstance(column, str) and term in TERM_INDEX:
            quoted = '"' + column.replace('"', '""') + '"'
            is_list = table.kinds[column].endswith("[]")
            text = f"array_to_string({quoted}, ';')" if is_list else f"CAST({quoted} AS VARCHAR)"
            expressions[term] = f"coalesce({text}, '')"
    return expressions


def _in_archive(archive: Archive, reading: Reading) -> RecordTable:
    descriptor_name = find_descriptor(archive)
    if descriptor_name is not None:
        return _described(archive, descriptor_name)
    tables = [name for name in archive.names if name.lower().endswith(_TABLE_ENDINGS)]
    if len(tables) != 1:
        raise BadFile(
            archive.path.name,
            f"it holds no meta.xml and {len(tables)} delimited tables, where one is expected.",
            next_step="Give a Darwin Core archive or a download with one table.",
        )
    with archive.open(tables[0]) as stream:
        return _delimited(
            archive.path,
            stream,
            reading,
            member=tables[0],
            size_bytes=archive.size_bytes(tables[0]),
        )


def _described(archive: Archive, descriptor_name: str) -> RecordTable:
    descriptor = read_descriptor(archive, descriptor_name)
    records, core = _records_and_core(archive, descriptor_name, descriptor)
    own, datasets, notes = read_datasets(archive, descriptor)
    columns: dict[str, int | str] = {**_by_term(records)}
    defaults = {_canonical(term): value for term, value in records.defaults.items()}
    has_id = "occurrenceid" in columns or "occurrenceid" in defaults
    if core is None and records.id_index is not None and not has_id:
        columns["occurrenceid"] = records.id_index
    if core is not None:
        notes = (*notes, f"records of the extension, filled in from the core ({core[1]})")
    fallback = own.identifier or own.title or archive.path.name
    return RecordTable(
        path=archive.path,
        kind="delimited",
        columns=columns,
        fallback_dataset=fallback,
        dialect=records.dialect,
        members=records.locations,
        defaults=defaults,
        width=_first_width(archive, records),
        size_bytes=sum(archive.size_bytes(name) for name in records.locations),
        datasets={fallback: own, **datasets},
        core=core[0] if core else None,
        core_key=records.id_index or 0,
        notes=notes,
    )


_RECORD_TYPES = frozenset(
    {
        *("occurrence", "simpledarwinrecord", "simpledarwincore", "darwinrecord", "darwincore"),
        *("humanobservation", "machineobservation", "preservedspecimen", "livingspecimen"),
        *("fossilspecimen", "materialentity", "materialsample", "materialcitation", "specimen"),
    }
)
"""Row types of occurrence records, today's and those of older versions of the standard."""


def _records_and_core(
    archive: Archive, descriptor_name: str, descriptor: Descriptor
) -> tuple[Table, tuple[CoreTable, str] | None]:
    """The table of records: the core, or an extension with the core that fills it in."""
    core = descriptor.core
    if core.row_type.casefold() in _RECORD_TYPES:
        return core, None
    found = [table for table in descriptor.extensions if table.row_type.casefold() in _RECORD_TYPES]
    if not found or core.id_index is None:
        raise BadFile(
            f"{archive.path.name}/{descriptor_name}",
            f"its core holds {core.row_type} rows, and no extension of it holds occurrences.",
            next_step="Give an archive with occurrences, as its core or beside its events.",
        )
    columns = _by_term(core)
    return found[0], (
        CoreTable(
            archive.path,
            core.locations,
            core.dialect,
            {term: index for term, index in columns.items() if term in TERM_INDEX},
            {_canonical(term): value for term, value in core.defaults.items()},
            _first_width(archive, core),
            core.id_index,
            columns.get("parenteventid"),
        ),
        core.row_type,
    )


def _by_term(table: Table) -> dict[str, int]:
    columns: dict[str, int] = {}
    for term, index in table.columns.items():
        columns.setdefault(_canonical(term), index)
    return columns


def _first_width(archive: Archive, core: Table) -> int | None:
    for name in core.locations:
        with archive.open(name) as stream:
            first = next(rows(stream, core.dialect, file=f"{archive.path.name}/{name}"), None)
        if first is not None:
            return len(first)
    return None


def _delimited(
    path: Path, stream: BinaryIO, reading: Reading, *, size_bytes: int, member: str = ""
) -> RecordTable:
    name = f"{path.name}/{member}" if member else path.name
    start = stream.read(_SNIFF_BYTES)
    dialect = sniff(start, file=name, encoding=reading.encoding)
    names = header(io.BytesIO(start), dialect, file=name)
    return RecordTable(
        path=path,
        kind="delimited",
        columns=_columns(names, list(range(len(names))), reading, name),
        fallback_dataset=path.name,
        dialect=dialect,
        members=(member,) if member else (),
        width=len(names),
        size_bytes=size_bytes,
    )


def _parquet(path: Path, reading: Reading) -> RecordTable:
    with duckdb.connect() as database:
        kinds = _parquet_kinds(path, database)
    names = list(kinds)
    return RecordTable(
        path=path,
        kind="parquet",
        columns=_columns(names, names, reading, path.name),
        fallback_dataset=path.name,
        size_bytes=path.stat().st_size * 8,
        kinds=kinds,
    )


def _columns(
    names: Sequence[str], places: Sequence[int | str], reading: Reading, file: str
) -> dict[str, int | str]:
    """Term to column: as a person says, else by the heading."""
    columns: dict[str, int | str] = {}
    for heading, place in zip(names, places, strict=True):
        columns.setdefault(_canonical(heading), place)
    by_heading = {
        name.strip().strip('"').casefold(): place
        for name, place in zip(reversed(names), reversed(places), strict=True)
    }
    for term, heading in reading.columns.items():
        wanted = _canonical(term)
        if wanted not in TERM_INDEX:
            raise BadRequest(
                f"{term!r} is not a term that is read of occurrence records.",
                next_step="Use a Darwin Core term such as scientificName or decimalLatitude.",
            )
        if heading.strip().casefold() not in by_heading:
            raise BadFile(
                file,
                f"it has no column {heading!r}.",
                next_step=f"Its columns are: {', '.join(names[:_SHOWN])}.",
            )
        columns[wanted] = by_heading[heading.strip().casefold()]
    return columns


def _parquet_kinds(path: Path, database: duckdb.DuckDBPyConnection) -> dict[str, str]:
    try:
        described = database.execute(
            "DESCRIBE SELECT * FROM read_parquet(?)", [str(path)]
        ).fetchall()
    except duckdb.Error as error:
        raise BadFile(path.name, f"it cannot be read as Parquet ({_first_line(error)}).") from error
    return {str(row[0]): str(row[1]) for row in described}


def is_parquet(path: Path) -> bool:
    """By content, not by name."""
    with path.open("rb") as stream:
        return stream.read(4) == b"PAR1"


def _canonical(column: str) -> str:
    term = re.sub(r"[^a-z0-9]", "", term_name(column.strip().strip('"')).lower())
    return ALIASES.get(term, term)


def _require_terms(table: RecordTable) -> None:
    needed = 1 + max(
        (place for place in table.columns.values() if isinstance(place, int)), default=0
    )
    if table.width is not None and needed > table.width:
        raise BadFile(
            table.path.name,
            f"its rows have {table.width} columns where the descriptor needs {needed}.",
        )
    of_core = {*table.core.columns, *table.core.defaults} if table.core else set[str]()
    known = {*table.columns, *table.defaults, *of_core}
    if not known & set(NAME_TERMS):
        raise _missing(table, "a plant name (scientificName)", known)
    for term in ("decimalLatitude", "decimalLongitude"):
        if term.lower() not in known:
            raise _missing(table, term, known)


def _missing(table: RecordTable, what: str, known: Sequence[str] | set[str]) -> BadFile:
    recognised = sorted(term for term in known if term in TERM_INDEX)
    return BadFile(
        table.path.name,
        f"it has no column for {what}.",
        next_step="Columns are found by their Darwin Core names; recognised here: "
        f"{', '.join(recognised) or 'none'}. Say which is which: --column scientificName=HEADING.",
    )


def _first_line(error: Exception) -> str:
    return str(error).strip().splitlines()[0]
