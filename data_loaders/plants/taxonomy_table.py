"""Opening a taxon table: plain or gzip text, a zip of one table, or a Darwin Core archive with its
``meta.xml``.

Column names are read whatever their case and prefix (``dwc:taxonID``, ``col:ID``, a term's URI).
The large backbones name some columns otherwise than Darwin Core does; ``_ALIASES`` has them.
"""

import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import BinaryIO, Literal, cast, get_args

from data_loaders.archives import (
    Archive,
    is_gzip,
    is_zip,
    open_archive,
    open_data,
    refuse_by_name,
)
from data_loaders.darwin_core import Table, cell_value, find_descriptor, read_descriptor, term_name
from data_loaders.delimited import Dialect, header, rows, sniff
from service.errors import BadFile, BadRequest

Column = Literal[
    "taxonID",
    "scientificName",
    "scientificNameAuthorship",
    "taxonRank",
    "taxonomicStatus",
    "acceptedNameUsageID",
    "parentNameUsageID",
    "kingdom",
    "phylum",
    "class",
    "family",
    "genus",
    "specificEpithet",
    "infraspecificEpithet",
    "nomenclaturalCode",
]
_COLUMNS: tuple[Column, ...] = get_args(Column)
_EPITHETS: tuple[Column, ...] = ("genus", "specificEpithet")
"""In the place of ``scientificName``."""
_ALIASES: Mapping[str, Column] = {
    "id": "taxonID",
    "authorship": "scientificNameAuthorship",
    "rank": "taxonRank",
    "status": "taxonomicStatus",
    "parentid": "parentNameUsageID",
    "code": "nomenclaturalCode",
    "genericname": "genus",
    "species": "specificEpithet",
    "epithet": "specificEpithet",
    "infraspecies": "infraspecificEpithet",
}
"""Names of the same columns in the Catalogue of Life Data Package."""

_BY_LOWER_NAME: Mapping[str, Column] = {column.lower(): column for column in _COLUMNS}
_TABLE_ENDINGS = (".csv", ".tsv", ".txt", ".tab")
_KNOWN_TABLES = (
    "taxon.tsv",
    "taxon.txt",
    "taxon.csv",
    "classification.csv",
    "classification.txt",
    "nameusage.tsv",
)
_SNIFFED_BYTES = 1 << 16
_SHOWN = 12

TaxonCells = Mapping[Column, str]


@dataclass
class TaxonTable:
    """The rows of a taxon table, read once.

    Attributes:
        total_bytes: unpacked size where it is known beforehand.
        read_bytes: how far the reading has come.
        metadata: the document that describes the data set, empty without one.
        parent_is_accepted: a synonym's parent column holds its accepted name (Catalogue of Life
            Data Package).
        has_ids: the table has a column of identifiers; else rows are known by their numbers.
        has_ids: the table has a column of identifiers; else rows are known by their number.
    """

    file: str
    total_bytes: int | None
    metadata: bytes
    parent_is_accepted: bool
    has_ids: bool
    _rows: Iterator[TaxonCells]
    _meters: "list[_Meter]"

    def __iter__(self) -> Iterator[TaxonCells]:
        return self._rows

    @property
    def read_bytes(self) -> int:
        return sum(meter.count for meter in self._meters)


class _Meter:
    """A stream that counts what is read from it, after bytes that were read ahead."""

    def __init__(self, stream: BinaryIO, ahead: bytes = b"") -> None:
        self._stream = stream
        self._ahead = ahead
        self.count = 0

    def read(self, size: int = -1) -> bytes:
        content, self._ahead = self._ahead, b""
        content = content or self._stream.read(size)
        self.count += len(content)
        return content


@contextmanager
def open_taxa(path: Path, headings: Mapping[str, str] | None = None) -> Iterator[TaxonTable]:
    """Open a taxon table.

    Args:
        headings: term to heading of its column, for tables with headings of their own.

    Raises:
        BadFile: it cannot be opened, is not a taxon table, or is an archive that may not be opened.
    """
    if not path.exists():
        raise BadFile(path.name, "there is no such file.")
    refuse_by_name(path)
    with ExitStack() as stack:
        if not is_zip(path):
            size = None if is_gzip(path) else path.stat().st_size
            yield _sniffed(stack.enter_context(open_data(path)), path.name, size, headings or {})
            return
        archive = stack.enter_context(open_archive(path))
        descriptor = find_descriptor(archive)
        if descriptor:
            yield _described(archive, path.name, descriptor)
        else:
            name = _only_table(archive)
            yield _sniffed(
                stack.enter_context(archive.open(name)),
                f"{path.name}/{name}",
                archive.size_bytes(name),
                headings or {},
            )


def _only_table(archive: Archive) -> str:
    """In a zip without a descriptor, the one table, or the one with a name that backbones use."""
    data = [name for name in archive.names if PurePosixPath(name).suffix.lower() in _TABLE_ENDINGS]
    known = [name for name in data if PurePosixPath(name).name.lower() in _KNOWN_TABLES]
    chosen = known if len(known) == 1 else data
    if len(chosen) != 1:
        raise BadFile(
            archive.path.name,
            f"it has no meta.xml, and {len(chosen)} tables.",
            next_step="Unpack it and load the table of taxa.",
        )
    return chosen[0]


def _sniffed(
    stream: BinaryIO, file: str, size: int | None, headings: Mapping[str, str]
) -> TaxonTable:
    ahead = stream.read(_SNIFFED_BYTES)
    dialect = sniff(ahead, file=file)
    names = header(io.BytesIO(ahead), dialect, file=file)
    columns = _columns({name: place for place, name in enumerate(names)})
    columns |= _chosen(headings, names, file)
    _require(columns, file, names)
    meter = _Meter(stream, ahead)
    return TaxonTable(
        file=file,
        total_bytes=size,
        metadata=b"",
        parent_is_accepted="acceptedNameUsageID" not in columns,
        has_ids="taxonID" in columns,
        _rows=_cells(meter, dialect, columns, {}, file, len(names)),
        _meters=[meter],
    )


def _described(archive: Archive, file: str, descriptor: str) -> TaxonTable:
    described = read_descriptor(archive, descriptor)
    tables = [
        table
        for table in (described.core, *described.extensions)
        if table.row_type in ("Taxon", "NameUsage")
    ]
    if not tables:
        raise BadFile(
            file, f"its core holds {described.core.row_type} rows, and no table of it holds taxa."
        )
    table = tables[0]
    columns = _columns(table.columns)
    if "taxonID" not in columns and table.id_index is not None:
        columns["taxonID"] = table.id_index
    _require(columns, file, table.columns)
    meters: list[_Meter] = []
    return TaxonTable(
        file=file,
        total_bytes=sum(archive.size_bytes(location) for location in table.locations),
        metadata=archive.read(described.metadata) if described.metadata else b"",
        parent_is_accepted=False,
        has_ids=True,
        _rows=_described_rows(archive, table, columns, file, meters),
        _meters=meters,
    )


def _described_rows(
    archive: Archive, table: Table, columns: dict[Column, int], file: str, meters: list[_Meter]
) -> Iterator[TaxonCells]:
    defaults = {
        column: value for term, value in table.defaults.items() if (column := _column(term))
    }
    for location in table.locations:
        with archive.open(location) as stream:
            meters.append(_Meter(stream))
            yield from _cells(
                meters[-1], table.dialect, columns, defaults, f"{file}/{location}", None
            )


def _cells(
    meter: _Meter,
    dialect: Dialect,
    columns: Mapping[Column, int],
    defaults: Mapping[Column, str],
    file: str,
    width: int | None,
) -> Iterator[TaxonCells]:
    last = max(columns.values())
    for cells in rows(cast(BinaryIO, meter), dialect, file=file, width=width):
        if last >= len(cells):
            raise BadFile(
                file, f"its rows have {len(cells)} columns where column {last + 1} is named."
            )
        yield {
            **defaults,
            **{
                column: value
                for column, place in columns.items()
                if (value := cell_value(cells[place]))
            },
        }


def _columns(named: Mapping[str, int]) -> dict[Column, int]:
    found: dict[Column, int] = {}
    for name, place in named.items():
        column = _column(name)
        if column:
            found.setdefault(column, place)
    return found


def _column(name: str) -> Column | None:
    term = term_name(name.strip().strip('\ufeff"')).lower()
    return _BY_LOWER_NAME.get(term) or _ALIASES.get(term)


def _chosen(headings: Mapping[str, str], names: Sequence[str], file: str) -> dict[Column, int]:
    """The columns that a person named."""
    places = {name.strip().casefold(): place for place, name in reversed([*enumerate(names)])}
    found: dict[Column, int] = {}
    for term, heading in headings.items():
        column = _column(term)
        if column is None:
            raise BadRequest(
                f"{term!r} is not a term of a taxon table.",
                next_step=f"Use one of: {', '.join(_COLUMNS)}.",
            )
        place = places.get(heading.strip().casefold())
        if place is None:
            raise BadFile(
                file,
                f"it has no column {heading!r}.",
                next_step=f"Its columns are: {', '.join(list(names)[:_SHOWN])}.",
            )
        found[column] = place
    return found


def _require(columns: Mapping[Column, int], file: str, names: Iterable[str]) -> None:
    if "scientificName" not in columns and not set(_EPITHETS) <= set(columns):
        raise BadFile(
            file,
            "it has no column scientificName, nor genus and specificEpithet.",
            next_step=f"Its columns are: {', '.join(list(names)[:_SHOWN])}. Name them by the Darwin"
            " Core terms, or say which is which: --column scientificName=HEADING.",
        )
