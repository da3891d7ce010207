"""A list kept by hand as rows of tidy texts, its header, and which column means what.

The header may be under a title, take up several rows, and have cells merged across columns.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from service.errors import BadFile, BadRequest, UnknownValue
from service.input.table import heading_words, read_table

_MOST_BYTES = 32 << 20  # of a list that people keep by hand; common practice, no source


@dataclass(frozen=True, slots=True)
class GridRow:
    """A row.

    ``number`` is the line of a text file where the row begins, or the row of the sheet, from 1.
    """

    number: int
    cells: tuple[str, ...]

    @property
    def is_blank(self) -> bool:
        return not any(self.cells)

    @property
    def distinct(self) -> tuple[str, ...]:
        """The texts in the row, each once."""
        return tuple(dict.fromkeys(cell for cell in self.cells if cell))


@dataclass(frozen=True, slots=True)
class Grid:
    """A table read, and how it was written.

    Attributes:
        written_as: encoding and delimiter, or the sheet, for a person.
        notes: what had to be mended.
    """

    rows: tuple[GridRow, ...]
    written_as: str
    notes: tuple[str, ...] = ()


def read_grid(path: Path) -> Grid:
    """Read a CSV or a workbook.

    Raises:
        BadFile: neither, damaged, empty, or larger than a list kept by hand.
    """
    content = _content(path)
    if path.suffix.lower() in (".xlsx", ".xlsm") and not content.startswith(b"PK"):
        raise BadFile(
            path.name, "it is not a workbook.", next_step="Save it as .xlsx or as CSV UTF-8."
        )
    try:
        table = read_table(content)
    except BadRequest as error:
        raise BadFile(path.name, error.detail, next_step=error.next_step) from error
    rows = tuple(
        GridRow(number, tuple(map(_tidy, cells)))
        for number, cells in zip(table.lines, table.filled(), strict=True)
    )
    if all(row.is_blank for row in rows):
        raise BadFile(path.name, "it holds no text.")
    return Grid(rows, table.written_as, table.notes)


def _content(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > _MOST_BYTES:
            raise BadFile(
                path.name,
                f"it is larger than {_MOST_BYTES >> 20} MB.",
                next_step="Split it, or keep only the list itself.",
            )
        return path.read_bytes()
    except OSError as error:
        raise BadFile(path.name, f"it cannot be opened: {error.strerror}.") from error


def _tidy(cell: str) -> str:
    return " ".join(cell.replace("\xa0", " ").replace("\ufeff", "").split())


def padded(cells: Sequence[str], width: int) -> tuple[str, ...]:
    """Cells brought to a width."""
    return (*cells[:width], *("" for _ in range(width - len(cells))))


Field = Literal[
    "scientific", "common", "name", "class", "acts", "county", "area", "exceptions", "condition",
    "citation", "address", "from-date", "how-known", "notes",
]  # fmt: skip
FIELDS: tuple[Field, ...] = get_args(Field)
NAME_FIELDS: tuple[Field, ...] = ("scientific", "name", "common")

_TITLES: dict[Field, str] = {
    "scientific": (
        "scientific|scientific name|botanical|botanical name|latin|latin name|species|"
        "species name|taxon|binomial|accepted name"
    ),
    "common": (
        "common|common name|vernacular|vernacular name|english name|trade name|local name|"
        "common names"
    ),
    "name": "name|plant|plant name|item|label|description|weed|weed name|plants",
    "class": (
        "class|category|status|listing|designation|tier|group|list|level|rank of concern|"
        "classification|legal status"
    ),
    "acts": (
        "acts|act|restricted acts|prohibited acts|restriction|restrictions|restricted|"
        "prohibited|barred|activity|activities|actions"
    ),
    "county": "county|counties|fips|county fips|fips code|parish|borough",
    "area": "area|areas|where|applies in|location|region|extent",
    "exceptions": "exceptions|exception|except|exempt|exemptions|exempted|exclusions",
    "condition": "condition|conditions|terms|provided that",
    "citation": (
        "citation|section|code section|cite|reference|ordinance|source|authority|legal reference"
    ),
    "address": "url|link|web|web address|website|address",
    "from-date": (
        "effective|effective date|effective from|from|since|date listed|listed on|start date|"
        "in force from|date added"
    ),
    "how-known": "how known|checked|verified",
    "notes": "notes|note|remarks|remark|comment|comments|reason|why|memo",
}
_FIELD_OF: dict[str, Field] = {
    title: field for field, titles in _TITLES.items() for title in titles.split("|")
}
_TELLING: tuple[tuple[str, Field], ...] = (
    (r"\b(scientific|botanical|latin)\b", "scientific"),
    (r"\b(common|vernacular)\b", "common"),
    (r"\b(county|counties|fips)\b", "county"),
    (r"\b(category|class|status)\b", "class"),
    (r"\b(restrict\w*|barred|prohibited acts?)\b", "acts"),
    (r"\b(exception|exempt)\w*\b", "exceptions"),
    (r"\beffective\b", "from-date"),
    (r"\b(citation|section|reference)\b", "citation"),
    (r"\b(notes?|remarks?|comments?)\b", "notes"),
)
_MOST_ROWS_ABOVE = 40
_MOST_HEADER_ROWS = 3


@dataclass(frozen=True, slots=True)
class Header:
    """The header found.

    Attributes:
        first, last: places of its rows in the grid; -1 for a table without a header.
        titles: of every column, several rows joined.
        columns: which column holds which field.
    """

    first: int
    last: int
    titles: tuple[str, ...]
    columns: Mapping[Field, int]

    @property
    def understood(self) -> dict[Field, str]:
        """Field to the title of its column."""
        return {
            field: self.titles[column] or f"column {column + 1}"
            for field, column in self.columns.items()
        }

    @property
    def passed_over(self) -> tuple[str, ...]:
        """Titles of the columns that mean nothing here."""
        return tuple(
            title
            for column, title in enumerate(self.titles)
            if title and column not in self.columns.values()
        )


def find_header(
    grid: Grid, file: str, mapping: Mapping[str, str] | None, is_plant: Callable[[str], bool]
) -> Header:
    """The header that makes most columns plain.

    Args:
        mapping: field to column title, where the titles do not say it by themselves. A title may be
            given in any case, or as the number of the column from 1; with numbers alone a table
            needs no header.
        is_plant: whether a text is the name of a plant, so that no row of the list is taken for a
            header.

    Raises:
        UnknownValue: the mapping names a field that there is not.
        BadFile: no row looks like a header, or a mapped column is not there.
    """
    wanted = _checked(mapping or {})
    headers = [
        header
        for first in range(min(len(grid.rows), _MOST_ROWS_ABOVE))
        for header in _headers_at(grid, first, wanted)
        if not _holds_plant(grid.rows[header.first : header.last + 1], header, is_plant)
    ]
    if headers:
        return max(
            headers,
            key=lambda header: (len(header.columns), header.first - header.last, -header.first),
        )
    if wanted and all(_plain(title).isdigit() for title in wanted.values()):
        return _no_header(grid, wanted)
    raise BadFile(
        file,
        "no row looks like a header with a column of plant names"
        + (f" and {', '.join(wanted.values())}." if wanted else "."),
        place="first rows",
        next_step=(
            "Name the column 'scientific name' or 'common name', or say which column it is, for"
            " example scientific=1."
        ),
    )


def _headers_at(grid: Grid, first: int, wanted: Mapping[Field, str]) -> Iterable[Header]:
    """Headers of one row and more that may begin at a place."""
    for count in range(1, _MOST_HEADER_ROWS + 1):
        rows = grid.rows[first : first + count]
        if len(rows) < count or any(row.is_blank for row in rows):
            return
        header = _header(rows, first, wanted)
        if header is not None:
            yield header


def _holds_plant(rows: Sequence[GridRow], header: Header, is_plant: Callable[[str], bool]) -> bool:
    names = [column for field, column in header.columns.items() if field in NAME_FIELDS]
    return any(
        is_plant(row.cells[column])
        for row in rows
        for column in names
        if column < len(row.cells) and row.cells[column]
    )


def _no_header(grid: Grid, wanted: Mapping[Field, str]) -> Header:
    width = max(len(row.cells) for row in grid.rows)
    titles = tuple(f"column {column + 1}" for column in range(width))
    return Header(
        -1,
        -1,
        titles,
        {field: min(int(_plain(title)), width) - 1 for field, title in wanted.items()},
    )


def _checked(mapping: Mapping[str, str]) -> dict[Field, str]:
    wanted: dict[Field, str] = {}
    for key, title in mapping.items():
        field = next((name for name in FIELDS if name == key.strip().casefold()), None)
        if field is None:
            raise UnknownValue("Field", key, FIELDS)
        wanted[field] = title
    return wanted


def _header(rows: Sequence[GridRow], first: int, wanted: Mapping[Field, str]) -> Header | None:
    """The header that these rows make, or None where they have no column of names or lack a
    mapped one.
    """
    width = max(len(row.cells) for row in rows)
    titles = tuple(
        _joined(column)
        for column in zip(
            *(_spread(padded(row.cells, width), row is rows[-1]) for row in rows), strict=True
        )
    )
    columns: dict[Field, int] = {}
    for field, title in wanted.items():
        column = _column(titles, title)
        if column is None:
            return None
        columns[field] = column
    for column, title in enumerate(titles):
        field_found = _field(title)
        if (
            field_found is not None
            and field_found not in columns
            and column not in columns.values()
        ):
            columns[field_found] = column
    if not any(field in columns for field in NAME_FIELDS):
        return None
    last_row = padded(rows[-1].cells, width)
    if not any(last_row[column] for column in columns.values()):
        return None
    return Header(first, first + len(rows) - 1, titles, columns)


def _spread(cells: Sequence[str], lowest: bool) -> tuple[str, ...]:
    """Cells of an upper header row, a title carried over the empty cells beside it that it
    spans.
    """
    if lowest:
        return tuple(cells)
    spread: list[str] = []
    for cell in cells:
        spread.append(cell or (spread[-1] if spread else ""))
    return tuple(spread)


def _joined(parts: Sequence[str]) -> str:
    return " / ".join(dict.fromkeys(part for part in parts if part))


def _column(titles: Sequence[str], wanted: str) -> int | None:
    plain = _plain(wanted)
    if plain.isdigit():
        number = int(plain) - 1
        return number if 0 <= number < len(titles) else None
    for column, title in enumerate(titles):
        if plain and plain in (_plain(title), _plain(title.rsplit(" / ", 1)[-1])):
            return column
    return None


def _field(title: str) -> Field | None:
    """What a column means by its title: the whole of it, its lowest part, or a telling word in a
    short one.
    """
    lowest = title.rsplit(" / ", 1)[-1]
    for form in (_plain(title.replace(" / ", " ")), _plain(lowest)):
        if form in _FIELD_OF:
            return _FIELD_OF[form]
    if len(title.split()) > 8:
        return None
    return next((field for pattern, field in _TELLING if re.search(pattern, _plain(title))), None)


def _plain(title: str) -> str:
    return " ".join(heading_words(title))
