"""What lies in a file of occurrence records: an archive with a descriptor, a delimited table, or
Parquet.
"""

import io
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, Literal

import duckdb

from data_loaders.archives import Archive, is_gzip, is_zip, open_archive, open_data
from data_loaders.darwin_core import Table, cell_value, find_descriptor, read_descriptor, term_name
from data_loaders.delimited import Dialect, header, rows, sniff
from data_loaders.occurrences.datasets import DatasetText, read_datasets
from data_loaders.occurrences.terms import ALIASES, NAME_TERMS, TERM_INDEX, TERMS
from service.errors import BadFile

_SNIFF_BYTES = 1 << 20
_TABLE_ENDINGS = (".csv", ".tsv", ".txt", ".tab")
_FETCH_ROWS = 10_000


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

    def part_name(self, member: str) -> str:
        """For messages."""
        return f"{self.path.name}/{member}" if member else self.path.name


def inspect(path: Path) -> RecordTable:
    """Find out what a file holds, without reading its rows.

    Raises:
        BadFile: it is none of the formats, or lacks the terms without which nothing can be kept.
    """
    if not path.is_file():
        raise BadFile(path.name, "there is no such file.")
    if path.stat().st_size == 0:
        raise BadFile(path.name, "it is empty.")
    if is_zip(path):
        with open_archive(path) as archive:
            table = _in_archive(archive)
    elif _is_parquet(path):
        table = _parquet(path)
    else:
        with open_data(path) as stream:
            size = path.stat().st_size * (8 if is_gzip(path) else 1)
            table = _delimited(path, stream, size_bytes=size)
    _require_terms(table)
    return table


def read_rows(table: RecordTable) -> Iterator[list[str]]:
    """Every row as values in the order of ``terms.TERMS``."""
    if table.kind == "parquet":
        yield from _parquet_rows(table)
        return
    places = [table.columns.get(term) for term in TERMS]
    defaults = [table.defaults.get(term, "") for term in TERMS]
    for member in table.members or ("",):
        name = table.part_name(member)
        with open_part(table, member) as stream:
            for cells in rows(stream, table.dialect, file=name, width=table.width):
                yield [
                    (cell_value(cells[place]) or default) if isinstance(place, int) else default
                    for place, default in zip(places, defaults, strict=True)
                ]


@contextmanager
def open_part(table: RecordTable, member: str) -> Iterator[BinaryIO]:
    """Bytes of one part of a delimited table."""
    if member:
        with open_archive(table.path) as archive, archive.open(member) as stream:
            yield stream
    else:
        with open_data(table.path) as stream:
            yield stream


def parquet_columns(table: RecordTable) -> list[str]:
    """SQL expressions, in the order of ``terms.TERMS``, each text and never null."""
    with duckdb.connect() as database:
        kinds = _parquet_kinds(table.path, database)
    expressions = []
    for term in TERMS:
        column = table.columns.get(term)
        if not isinstance(column, str):
            expressions.append("''")
            continue
        quoted = '"' + column.replace('"', '""') + '"'
        joined = (
            f"array_to_string({quoted}, ';')"
            if kinds[column].endswith("[]")
            else f"CAST({quoted} AS VARCHAR)"
        )
        expressions.append(f"coalesce({joined}, '')")
    return expressions


def _in_archive(archive: Archive) -> RecordTable:
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
            archive.path, stream, member=tables[0], size_bytes=archive.size_bytes(tables[0])
        )


def _described(archive: Archive, descriptor_name: str) -> RecordTable:
    descriptor = read_descriptor(archive, descriptor_name)
    core = descriptor.core
    if core.row_type != "Occurrence":
        raise BadFile(
            f"{archive.path.name}/{descriptor_name}",
            f"its core holds {core.row_type} rows, not occurrences.",
            next_step="Give an archive with an Occurrence core.",
        )
    own, datasets = read_datasets(archive, descriptor)
    columns: dict[str, int | str] = {}
    for term, index in core.columns.items():
        columns.setdefault(_canonical(term), index)
    defaults = {_canonical(term): value for term, value in core.defaults.items()}
    if (
        core.id_index is not None
        and "occurrenceid" not in columns
        and "occurrenceid" not in defaults
    ):
        columns["occurrenceid"] = core.id_index
    fallback = own.identifier or own.title or archive.path.name
    return RecordTable(
        path=archive.path,
        kind="delimited",
        columns=columns,
        fallback_dataset=fallback,
        dialect=core.dialect,
        members=core.locations,
        defaults=defaults,
        width=_first_width(archive, core),
        size_bytes=sum(archive.size_bytes(name) for name in core.locations),
        datasets={fallback: own, **datasets},
    )


def _first_width(archive: Archive, core: Table) -> int | None:
    for name in core.locations:
        with archive.open(name) as stream:
            first = next(rows(stream, core.dialect, file=f"{archive.path.name}/{name}"), None)
        if first is not None:
            return len(first)
    return None


def _delimited(path: Path, stream: BinaryIO, *, size_bytes: int, member: str = "") -> RecordTable:
    name = f"{path.name}/{member}" if member else path.name
    start = stream.read(_SNIFF_BYTES)
    dialect = sniff(start, file=name)
    names = header(io.BytesIO(start), dialect, file=name)
    columns: dict[str, int | str] = {}
    for index, column in enumerate(names):
        columns.setdefault(_canonical(column), index)
    return RecordTable(
        path=path,
        kind="delimited",
        columns=columns,
        fallback_dataset=path.name,
        dialect=dialect,
        members=(member,) if member else (),
        width=len(names),
        size_bytes=size_bytes,
    )


def _parquet(path: Path) -> RecordTable:
    with duckdb.connect() as database:
        kinds = _parquet_kinds(path, database)
    columns: dict[str, int | str] = {}
    for column in kinds:
        columns.setdefault(_canonical(column), column)
    return RecordTable(
        path=path,
        kind="parquet",
        columns=columns,
        fallback_dataset=path.name,
        size_bytes=path.stat().st_size * 8,
    )


def _parquet_kinds(path: Path, database: duckdb.DuckDBPyConnection) -> dict[str, str]:
    try:
        described = database.execute(
            "DESCRIBE SELECT * FROM read_parquet(?)", [str(path)]
        ).fetchall()
    except duckdb.Error as error:
        raise BadFile(path.name, f"it cannot be read as Parquet ({_first_line(error)}).") from error
    return {str(row[0]): str(row[1]) for row in described}


def _parquet_rows(table: RecordTable) -> Iterator[list[str]]:
    query = f"SELECT {', '.join(parquet_columns(table))} FROM read_parquet(?)"
    with duckdb.connect() as database:
        try:
            cursor = database.execute(query, [str(table.path)])
            while batch := cursor.fetchmany(_FETCH_ROWS):
                for cells in batch:
                    yield [cell_value(cell) for cell in cells]
        except duckdb.Error as error:
            raise BadFile(
                table.path.name, f"it cannot be read as Parquet ({_first_line(error)})."
            ) from error


def _is_parquet(path: Path) -> bool:
    with path.open("rb") as stream:
        return stream.read(4) == b"PAR1"


def _canonical(column: str) -> str:
    term = term_name(column.strip().strip('"')).lower()
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
    known = {*table.columns, *table.defaults}
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
        next_step=f"Columns are found by their Darwin Core names; recognised here: {', '.join(recognised) or 'none'}.",
    )


def _first_line(error: Exception) -> str:
    return str(error).strip().splitlines()[0]
