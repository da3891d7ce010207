"""An answered stock list as an Excel workbook.

A list that came as a workbook comes back as that workbook, formulas, formats and other sheets kept,
with the answers in new columns; pictures and charts are lost. A last sheet says what the answer
rests on.
"""

import io
import re
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from typing import IO

from openpyxl import Workbook, load_workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from service.checks.stock import StockLine, StockQuestion
from service.errors import TooLarge
from service.input.stock_table import StockTable
from service.input.table_values import MAX_CELL
from service.input.workbook import MOST_FILLED
from service.output.stock_columns import answer_header, answer_rows

ABOUT_TITLE = "About the answers"
_CUT = " [cut here: a cell holds no more; the CSV has it whole]"
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_BOLD = Font(bold=True)
_PIECE = 1 << 16


def stock_workbook(
    table: StockTable, lines: Iterable[StockLine], question: StockQuestion, about: Sequence[str]
) -> Iterator[bytes]:
    """The list with the answers beside it, in pieces; it is written to a file first.

    Args:
        about: what the answers rest on, one line each: day, build, standing of each state,
            cautions.

    Raises:
        TooLarge: a workbook that came would have more cells than are held.
    """
    with tempfile.TemporaryFile() as file:
        _write(table, lines, question, about, file)
        file.seek(0)
        while piece := file.read(_PIECE):
            yield piece


def _write(
    table: StockTable,
    lines: Iterable[StockLine],
    question: StockQuestion,
    about: Sequence[str],
    file: IO[bytes],
) -> None:
    book = (
        _with_columns(table, lines, question)
        if table.table.workbook is not None
        else _new(table, lines, question)
    )
    sheet = book.create_sheet(_free_title(book))
    for line in about:
        sheet.append([line])
    book.save(file)


def _with_columns(
    table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Workbook:
    """The workbook that came, answers added on its sheet."""
    columns = len(table.header) + len(answer_header(question))
    if len(table.rows) * columns > MOST_FILLED:
        raise TooLarge(
            f"The answered workbook has {len(table.rows):,} rows of {columns} cells, which the "
            "answer as CSV may have, and which",
            MOST_FILLED,
        )
    book = load_workbook(io.BytesIO(table.table.workbook or b""))
    sheet: Worksheet = book[table.table.sheet]
    _keep_merged_within(sheet, len(table.header))
    first_column = len(table.header) + 1
    for column, heading in enumerate(answer_header(question), start=first_column):
        _put(sheet, max(1, table.first_row - 1), column, heading).font = _BOLD
    for number, (_, named, tail) in enumerate(
        answer_rows(table, lines, question), start=table.first_row
    ):
        for column, value in enumerate((*named, *tail.cells), start=first_column):
            if value:
                _put(sheet, number, column, value)
    return book


def _keep_merged_within(sheet: Worksheet, width: int) -> None:
    """Draw in the areas of a title or a part heading that reach into the new columns."""
    for area in list(sheet.merged_cells.ranges):
        if area.max_col > width:
            sheet.unmerge_cells(area.coord)
            if area.min_col <= width:
                sheet.merge_cells(
                    start_row=area.min_row,
                    start_column=area.min_col,
                    end_row=area.max_row,
                    end_column=width,
                )


def _new(table: StockTable, lines: Iterable[StockLine], question: StockQuestion) -> Workbook:
    """A workbook for a list that came as text; cells stay text, so that no code loses a zero."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Stock list")
    sheet.freeze_panes = f"A{len(table.preamble) + 2}"
    width = len(table.header)
    for row in table.preamble:
        sheet.append([_as_text(sheet, cell) for cell in row])
    heading = [WriteOnlyCell(sheet, _fitting(cell)) for cell in _heading(table, question)]
    for cell in heading:
        cell.font, cell.data_type = _BOLD, "s"
    sheet.append(heading)
    for row, named, tail in answer_rows(table, lines, question):
        cells = [*row, *[""] * (width - len(row)), *named, *tail.cells]
        sheet.append([_as_text(sheet, cell) for cell in cells])
    return book


def _heading(table: StockTable, question: StockQuestion) -> list[str]:
    return [*table.header, *answer_header(question)]


def _put(sheet: Worksheet, row: int, column: int, value: str) -> Cell:
    cell = sheet.cell(row, column)
    assert isinstance(cell, Cell), "columns beside the list belong to no merged area"
    cell.value = _fitting(value)
    cell.data_type = "s"  # openpyxl would take a leading equals sign for a formula
    return cell


def _as_text(sheet: Worksheet, value: str) -> object:
    if not value.startswith("="):
        return _fitting(value) or None
    cell = WriteOnlyCell(sheet, _fitting(value))
    cell.data_type = "s"
    return cell


def _fitting(value: str) -> str:
    """Text that a cell can hold: not too long, and free of control characters."""
    plain = _CONTROL.sub(" ", value)
    return plain if len(plain) <= MAX_CELL else plain[: MAX_CELL - len(_CUT)] + _CUT


def _free_title(book: Workbook) -> str:
    title, number = ABOUT_TITLE, 2
    while title in book.sheetnames:
        title, number = f"{ABOUT_TITLE} {number}", number + 1
    return title
