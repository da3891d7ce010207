"""Stock lists as people have them: what is read in each, and what comes back."""

import csv
import io
import zipfile
from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from service.checks.label import resolve_lines
from service.checks.stock import StockChecker, StockLine, StockQuestion
from service.errors import BadRequest, TooLarge
from service.input.stock_table import StockTable, read_stock, rows_without_name
from service.output.csv import escape_formula, stock_csv
from service.output.excel import stock_workbook
from service.store.library import Library
from service.values.vocabulary import Jurisdiction
from tests.service.input.messy_lists import MESSY_LISTS, MessyList

QUESTION = StockQuestion((Jurisdiction("US-WI"),), ("sell",), date(2026, 6, 1))
every_list = pytest.mark.parametrize("messy", MESSY_LISTS, ids=lambda messy: messy.name)


def read(messy: MessyList) -> StockTable:
    return read_stock(messy.content, column=messy.column, sheet=messy.sheet, plain=messy.plain)


def answered(library: Library, table: StockTable) -> list[StockLine]:
    return list(StockChecker(library, QUESTION).check(table.names))


@every_list
def test_the_names_are_read_where_a_person_would_read_them(messy: MessyList) -> None:
    table = read(messy)
    names = enumerate(table.names, start=table.first_row)
    assert tuple((row, name.label, name.common) for row, name in names if name.shown) == messy.read


@every_list
def test_every_other_row_is_said_to_be_unanswered(messy: MessyList) -> None:
    table = read(messy)
    unanswered = dict(rows_without_name(table))
    numbers = set(range(table.first_row, table.first_row + len(table.rows)))
    assert set(unanswered) == numbers - {row for row, _, _ in messy.read}
    assert all(unanswered.values())


@every_list
def test_what_was_not_plain_is_said(messy: MessyList) -> None:
    table = read(messy)
    said = " ".join([*table.notes, *map(str, table.problems)])
    assert [words for words in messy.says if words not in said] == []


@every_list
def test_each_line_comes_to_what_was_expected_of_it(messy: MessyList, library: Library) -> None:
    table = read(messy)
    meant = {
        row: ("; ".join(candidate.accepted_name for candidate in found.candidates), found.confirmed)
        for row, found in enumerate(resolve_lines(library, table.names), start=table.first_row)
    }
    assert {row: meant[row] for row in messy.means} == dict(messy.means)


@every_list
def test_the_rows_come_back_in_order_with_every_cell(messy: MessyList, library: Library) -> None:
    table = read(messy)
    text = "".join(stock_csv(table, answered(library, table), QUESTION))
    rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")))
    given = [*table.preamble, table.header, *table.rows]
    assert len(rows) == len(given)
    for row, cells in zip(rows, given, strict=True):
        assert row[: len(cells)] == [escape_formula(cell) for cell in cells]


@every_list
def test_a_workbook_has_the_answers_beside_each_row(messy: MessyList, library: Library) -> None:
    table = read(messy)
    content = b"".join(stock_workbook(table, answered(library, table), QUESTION, ["about"]))
    book = load_workbook(io.BytesIO(content))
    sheet = book[table.table.sheet or "Stock list"]
    heading = max(1, table.first_row - 1)
    column = len(table.header) + 1
    assert sheet.cell(heading, column).value == "match"
    shift = 0 if table.table.sheet or table.first_row > 1 else 1
    for row, accepted in ((row, accepted) for row, (accepted, _) in messy.means.items()):
        assert (sheet.cell(row + shift, column + 1).value or "") == accepted


def test_a_workbook_comes_back_with_its_formulas_formats_and_sheets(library: Library) -> None:
    table = read(MESSY_LISTS[0])
    before = load_workbook(io.BytesIO(MESSY_LISTS[0].content))["Availability"]
    content = b"".join(stock_workbook(table, answered(library, table), QUESTION, ["about"]))
    after = load_workbook(io.BytesIO(content))["Availability"]
    assert after["D11"].value == before["D11"].value == "=SUM(D7:D10)"
    assert after["E7"].number_format == before["E7"].number_format
    assert after.merged_cells.ranges == before.merged_cells.ranges


def test_text_that_looks_like_a_formula_stays_text_in_a_workbook(library: Library) -> None:
    table = read_stock(b'label,note\nTrapa natans,"=HYPERLINK(""http://example.invalid"")"\n')
    content = b"".join(stock_workbook(table, answered(library, table), QUESTION, []))
    cell = load_workbook(io.BytesIO(content))["Stock list"]["B2"]
    assert (cell.data_type, cell.value) == ("s", '=HYPERLINK("http://example.invalid")')


def test_a_part_heading_merged_past_the_last_column_leaves_room_for_the_answers(
    library: Library,
) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Fernhollow (invented)"], ["Plant", "Qty"], ["FLOATERS"], ["Trapa natans", 2]):
        sheet.append(row)
    sheet.merge_cells("A3:H3")
    buffer = io.BytesIO()
    book.save(buffer)
    table = read_stock(buffer.getvalue())
    content = b"".join(stock_workbook(table, answered(library, table), QUESTION, []))
    after = load_workbook(io.BytesIO(content))["Sheet"]
    assert [cell.value for cell in after[3]][:4] == ["FLOATERS", None, "none", None]
    assert after["D4"].value == "Trapa natans"


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_a_broken_workbook_is_refused_in_words(data: st.DataObject) -> None:
    content = bytearray(MESSY_LISTS[0].content)
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(4, len(content) - 1))] = data.draw(st.integers(0, 255))
    with suppress(BadRequest):
        assert read_stock(bytes(content)).names


def test_a_workbook_that_unpacks_to_far_too_much_is_refused() -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", b"")
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 300_000_000)
    with pytest.raises(TooLarge, match="unpacked workbook"):
        read_stock(buffer.getvalue())
