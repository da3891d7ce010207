"""A table as people hand it over, CSV or workbook, as a grid of texts with the row numbers of the
file.

Text files may be UTF-8, UTF-16 or Windows-1252, with or without a byte order mark, or UTF-8 with
lines that are not; the delimiter is found out. In a workbook, cells merged into one are filled with
its value.
"""

import codecs
import csv
import io
import zipfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.worksheet.worksheet import Worksheet

from data_loaders.archives import LIMITS
from data_loaders.delimited import DELIMITERS
from service.errors import BadFile

_MOST_BYTES = 32 << 20  # of a list that people keep by hand; common practice, no source
_MOST_CELLS = 2_000_000
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


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
    try:
        size = path.stat().st_size
    except OSError as error:
        raise BadFile(path.name, f"it cannot be opened: {error.strerror}.") from error
    if size > _MOST_BYTES:
        raise BadFile(
            path.name,
            f"it is larger than {_MOST_BYTES >> 20} MB.",
            next_step="Split it, or keep only the list itself.",
        )
    grid = _read_workbook(path) if path.suffix.lower() in (".xlsx", ".xlsm") else _read_text(path)
    if all(row.is_blank for row in grid.rows):
        raise BadFile(path.name, "it holds no text.")
    return grid


def _read_text(path: Path) -> Grid:
    content = path.read_bytes()
    if content.startswith(b"PK\x03\x04"):
        raise BadFile(
            path.name,
            "it is a zip or a workbook, not text.",
            next_step="Give a workbook the ending .xlsx.",
        )
    text, encoding, notes = _decoded(content)
    if "\0" in text:
        raise BadFile(path.name, "it holds NUL characters, so it is no text.")
    delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[GridRow] = []
    number = 1
    try:
        for cells in reader:
            rows.append(GridRow(number, tuple(_tidy(cell) for cell in cells)))
            number = reader.line_num + 1
    except csv.Error as error:
        raise BadFile(
            path.name, f"its quoting cannot be read ({error}).", place=f"row {number}"
        ) from error
    shown = {"\t": "tab", ",": "comma", ";": "semicolon", "|": "bar"}[delimiter]
    return Grid(tuple(rows), f"{encoding}, parted by {shown}", tuple(notes))


def _decoded(content: bytes) -> tuple[str, str, list[str]]:
    """Text, its encoding for a person, and notes."""
    for mark, encoding in _MARKS:
        if content.startswith(mark):
            body = content[len(mark) :]
            if encoding == "utf-8":
                text, notes = _utf8_or_windows(body)
                return text, "UTF-8 with byte order mark", notes
            return body.decode(encoding, errors="replace"), "UTF-16", []
    sample = content[:4096]
    if sample.count(0) > len(sample) // 4:  # western text in UTF-16: every other byte is zero
        encoding = "utf-16-be" if sample[:1] == b"\0" else "utf-16-le"
        return content.decode(encoding, errors="replace"), "UTF-16 without byte order mark", []
    text, notes = _utf8_or_windows(content)
    return text, "UTF-8" if not notes else "UTF-8 and Windows-1252 mixed", notes


def _utf8_or_windows(content: bytes) -> tuple[str, list[str]]:
    lines: list[str] = []
    strays: list[int] = []
    for number, line in enumerate(content.splitlines(keepends=True), 1):
        try:
            lines.append(line.decode("utf-8"))
        except UnicodeDecodeError:
            lines.append(line.decode("cp1252", errors="replace"))
            strays.append(number)
    if not strays:
        return "".join(lines), []
    shown = ", ".join(str(number) for number in strays[:12]) + (
        f" and {len(strays) - 12} more" if len(strays) > 12 else ""
    )
    return "".join(lines), [
        f"Read as Windows-1252, being no UTF-8: line{'s' if len(strays) > 1 else ''} {shown}."
    ]


def _delimiter(text: str) -> str:
    """The delimiter that parts most rows into the same number of columns."""
    lines = [line for line in text.splitlines()[:200] if line.strip()]

    def fit(delimiter: str) -> tuple[int, int]:
        widths = Counter(
            len(cells) for cells in csv.reader(lines, delimiter=delimiter) if len(cells) > 1
        )
        width, rows = max(widths.items(), key=lambda item: (item[1], item[0]), default=(1, 0))
        return rows, width

    return max(DELIMITERS, key=lambda delimiter: (*fit(delimiter), delimiter == ","))


def _read_workbook(path: Path) -> Grid:
    _refuse_bombs(path)
    try:
        book = load_workbook(path, data_only=True)
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, OSError) as error:
        raise BadFile(
            path.name,
            f"it is no workbook that can be read ({error}).",
            next_step="Save it as .xlsx or .csv.",
        ) from error
    sheets = [
        sheet
        for sheet in book.worksheets
        if sheet.sheet_state == "visible" and (sheet.max_row or 0) * (sheet.max_column or 0) > 0
    ]
    filled = [
        sheet
        for sheet in sheets
        if any(cell is not None for row in sheet.iter_rows(values_only=True) for cell in row)
    ]
    if not filled:
        raise BadFile(path.name, "no visible sheet holds anything.")
    sheet = filled[0]
    if sheet.max_row * sheet.max_column > _MOST_CELLS:
        raise BadFile(
            path.name,
            f"sheet {sheet.title!r} has more than {_MOST_CELLS:,} cells.",
            next_step="Delete the empty rows and columns.",
        )
    notes = (
        [
            f"Only the first sheet was read; passed over: {', '.join(each.title for each in filled[1:])}."
        ]
        if len(filled) > 1
        else []
    )
    return Grid(tuple(_sheet_rows(sheet)), f"workbook, sheet {sheet.title!r}", tuple(notes))


def _refuse_bombs(path: Path) -> None:
    try:
        with zipfile.ZipFile(path) as archive:
            unpacked = sum(member.file_size for member in archive.infolist())
    except zipfile.BadZipFile as error:
        raise BadFile(
            path.name, "it is no workbook.", next_step="Save it as .xlsx or .csv."
        ) from error
    if unpacked > 8 * _MOST_BYTES or unpacked > LIMITS.ratio * max(path.stat().st_size, 1 << 16):
        raise BadFile(path.name, "it unpacks to far more than a list kept by hand.")


def _sheet_rows(sheet: Worksheet) -> Iterable[GridRow]:
    merged: dict[tuple[int, int], str] = {}
    for area in sheet.merged_cells.ranges:
        value = _cell(sheet.cell(area.min_row, area.min_col).value)
        for row, column in area.cells:
            merged[row, column] = value
    for number, values in enumerate(sheet.iter_rows(values_only=True), 1):
        yield GridRow(
            number,
            tuple(
                merged.get((number, column), _cell(value)) for column, value in enumerate(values, 1)
            ),
        )


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return _tidy(str(value))


def _tidy(cell: str) -> str:
    return " ".join(cell.replace("\xa0", " ").replace("\ufeff", "").split())


def padded(cells: Sequence[str], width: int) -> tuple[str, ...]:
    """Cells brought to a width."""
    return (*cells[:width], *("" for _ in range(width - len(cells))))
