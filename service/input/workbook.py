"""An Excel workbook (Office Open XML) as a table: one sheet, values as text."""

import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time

from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from service.errors import BadRequest, ReedgateError, TooLarge, UnknownValue
from service.input.table_values import MAX_ROWS, TOP_ROWS, Fitness, Table

_MOST_CELLS = 4_000_000
MOST_FILLED = 600_000
"""Cells of all sheets of a workbook, which is all in memory: some 250 MB (measured)."""
_MOST_OTHERS = 2_000_000
"""Elements of the other parts: a text takes four."""
_SHEETS, _PICTURES = "xl/worksheets/sheet", "xl/media/"
_MOST_UNPACKED = 256 << 20  # of a list that people keep by hand; common practice, no source
_MOST_RATIO = 200
_ROW = re.compile(rb"<(?:[\w.-]+:)?row[\s/>]")  # with the prefix of a namespace, or none
_CELL = re.compile(rb"<(?:[\w.-]+:)?c[\s/>]")


def read_workbook(
    content: bytes, *, fitness: Fitness | None, sheet: str | None, pointer: str
) -> Table:
    """One sheet of a workbook: the one asked for, else the first visible one with a heading, else
    the first visible one with anything in it.

    Raises:
        BadRequest: not a workbook, or empty.
        UnknownValue: no sheet of the title asked for.
        TooLarge: it unpacks to far more than a list kept by hand, or has too many cells.
    """
    try:
        return _read(content, fitness, sheet, pointer)
    except ReedgateError:
        raise
    except Exception as error:  # zipfile and openpyxl pass on whatever a broken file makes of them
        raise _not_a_workbook(pointer) from error


def _read(content: bytes, fitness: Fitness | None, sheet: str | None, pointer: str) -> Table:
    _refuse_bomb(content, pointer)
    book = load_workbook(io.BytesIO(content), data_only=True)
    chosen, others = _chosen(book, fitness, sheet, pointer)
    extent = _extent(chosen)
    if extent[0] > MAX_ROWS:
        raise TooLarge(f"The sheet has {extent[0]:,} rows, which", MAX_ROWS, pointer=pointer)
    if extent[0] * extent[1] > _MOST_CELLS:
        raise TooLarge("The sheet in cells", _MOST_CELLS, pointer=pointer)
    rows = [
        [_text(value) for value in values]
        for values in chosen.iter_rows(max_row=extent[0], max_col=extent[1], values_only=True)
    ]
    unread = _formulas_without_value(content, chosen.title, extent, rows)
    for (row, column), formula in unread.items():
        rows[row][column] = formula
    notes = [f"sheet {chosen.title!r} was read"] if others else []
    if others:
        notes.append(f"sheets not read: {', '.join(map(repr, others))}")
    return Table(
        rows,
        list(range(1, len(rows) + 1)),
        f"workbook, sheet {chosen.title!r}",
        notes=("; ".join(notes),) if notes else (),
        sheet=chosen.title,
        workbook=content,
        merged=tuple(_merged(chosen, extent)),
        unread=unread,
    )


def _refuse_bomb(content: bytes, pointer: str) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        unpacked = sum(member.file_size for member in archive.infolist())
        names = set(archive.namelist())
        if unpacked > _MOST_UNPACKED or unpacked > _MOST_RATIO * max(len(content), 1 << 16):
            raise TooLarge("The unpacked workbook in bytes", _MOST_UNPACKED, pointer=pointer)
        _refuse_many_cells(archive, pointer)
    if "[Content_Types].xml" not in names:
        raise _not_a_workbook(pointer)


def _refuse_many_cells(archive: zipfile.ZipFile, pointer: str) -> None:
    """Count rows, cells and other elements before a workbook is read, which takes a hundred times
    as long.
    """
    rows = cells = others = 0
    for name in archive.namelist():
        with archive.open(name) as member:
            while piece := member.read(1 << 20):
                if name.startswith(_SHEETS):
                    rows += sum(1 for _ in _ROW.finditer(piece))
                    cells += sum(1 for _ in _CELL.finditer(piece))
                elif not name.startswith(_PICTURES):
                    others += piece.count(b"<")
                for counted, what, limit in (
                    (rows, "rows", MAX_ROWS),
                    (cells, "cells", MOST_FILLED),
                    (others, "styles, strings and notes", _MOST_OTHERS),
                ):
                    if counted > limit:
                        detail = f"The workbook has more than {limit:,} {what} in {name}, which"
                        raise TooLarge(detail, limit, pointer=pointer)


def _not_a_workbook(pointer: str) -> BadRequest:
    return BadRequest(
        "This is a zip file, not an Excel workbook that can be read.",
        pointer=pointer,
        next_step="Save it as .xlsx or as CSV UTF-8.",
    )


def _chosen(
    book: Workbook, fitness: Fitness | None, sheet: str | None, pointer: str
) -> tuple[Worksheet, list[str]]:
    """The sheet to read, and the titles of the other visible ones that have something in them."""
    worksheets: list[Worksheet] = list(book.worksheets)
    if sheet is not None:
        wanted = sheet.strip().casefold()
        for candidate in worksheets:
            if candidate.title.strip().casefold() == wanted:
                return candidate, []
        raise UnknownValue("Sheet", sheet, [page.title for page in worksheets], pointer="sheet")
    filled = [
        candidate
        for candidate in worksheets
        if candidate.sheet_state == "visible" and _extent(candidate) != (0, 0)
    ]
    if not filled:
        raise BadRequest(
            "No visible sheet of the workbook holds anything.",
            pointer=pointer,
            next_step="Name the sheet with --sheet, or save the list as CSV UTF-8.",
        )
    headed = [candidate for candidate in filled if fitness and _headings(candidate, fitness)]
    chosen = (headed or filled)[0]
    return chosen, [other.title for other in filled if other is not chosen]


def _headings(sheet: Worksheet, fitness: Fitness) -> int:
    top = sheet.iter_rows(max_row=min(TOP_ROWS, sheet.max_row), values_only=True)
    return max((fitness([_text(value) for value in values]) for values in top), default=0)


def _extent(sheet: Worksheet) -> tuple[int, int]:
    """Rows and columns up to the last cell with something in it.

    A sheet often ends in thousands of rows that are formatted and empty; the sheet's own size
    counts those.
    """
    rows = columns = 0
    for (row, column), cell in sheet._cells.items():
        if cell.value is not None:
            rows, columns = max(rows, row), max(columns, column)
    return rows, columns


def _formulas_without_value(
    content: bytes, title: str, extent: tuple[int, int], rows: Sequence[Sequence[str]]
) -> dict[tuple[int, int], str]:
    """Formulas that no spreadsheet program has worked out yet, by row and column from 0."""
    if not rows or not _has_formulas(content):
        return {}
    sheet = load_workbook(io.BytesIO(content))[title]
    cells = sheet.iter_rows(max_row=extent[0], max_col=extent[1], values_only=True)
    return {
        (row, column): value
        for row, values in enumerate(cells)
        for column, value in enumerate(values)
        if isinstance(value, str) and value.startswith("=") and not rows[row][column]
    }


def _has_formulas(content: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return any(
            b"<f>" in archive.read(name) or b"<f " in archive.read(name)
            for name in archive.namelist()
            if name.startswith("xl/worksheets/") and name.endswith(".xml")
        )


def _merged(sheet: Worksheet, extent: tuple[int, int]) -> Iterable[tuple[int, int, int, int]]:
    for area in sheet.merged_cells.ranges:
        if area.min_row <= extent[0]:
            yield (
                area.min_row - 1,
                area.min_col - 1,
                min(area.max_row, extent[0]) - 1,
                area.max_col - 1,
            )


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)
