"""Stock lists as they come: encodings, delimiters, headings, odd cells; the same rows back."""

import csv
import io
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.checks.stock import StockChecker, StockQuestion
from service.errors import BadRequest, TooLarge
from service.input.stock_table import read_stock
from service.output.csv import escape_formula, stock_csv
from service.output.stock_columns import answer_header
from service.store.library import Library
from service.values.vocabulary import Jurisdiction

QUESTION = StockQuestion(
    (Jurisdiction("US-WI"), Jurisdiction("US-FL")), ("sell",), date(2026, 6, 1)
)


def answered(library: Library, content: bytes) -> list[list[str]]:
    table = read_stock(content)
    text = "".join(stock_csv(table, StockChecker(library, QUESTION).check(table.names), QUESTION))
    return list(csv.reader(io.StringIO(text.lstrip("\ufeff"), newline="")))


@pytest.mark.parametrize(
    "heading",
    ["label", "Name", "PLANT", "item", "Description", "botanical name", "Scientific_Name"],
)
def test_every_heading_of_the_contract_is_recognised(heading: str) -> None:
    assert read_stock(f"sku,{heading}\n1,Trapa natans\n".encode()).labels == ["Trapa natans"]


@pytest.mark.parametrize(
    ("encoding", "note"),
    [("utf-8", ""), ("utf-8-sig", ""), ("utf-16", "UTF-16"), ("cp1252", "Windows-1252")],
)
def test_encodings_of_spreadsheets_are_read(encoding: str, note: str) -> None:
    table = read_stock("label;qty\r\nNymphaea ×marliacea ‘Carnea’;3\r\n".encode(encoding))
    assert table.labels == ["Nymphaea ×marliacea ‘Carnea’"]
    assert note in " ".join(table.notes)


def test_bytes_in_no_known_encoding_are_refused_with_their_place() -> None:
    with pytest.raises(BadRequest, match=r"byte 16 in row 3 is neither UTF-8 nor Windows-1252"):
        read_stock(b"label\nTrapa na\n\xff\x81\n")


def test_a_list_without_a_label_column_says_what_headings_it_has() -> None:
    with pytest.raises(BadRequest, match=r"row 1 has the headings 'sku', 'qty'"):
        read_stock(b"sku,qty\n1,2\n")


@pytest.mark.parametrize("content", [b"", b"\n\n", b" , ,\n"])
def test_an_empty_list_is_said_to_be_empty(content: bytes) -> None:
    with pytest.raises(BadRequest, match="empty"):
        read_stock(content)


def test_too_many_columns_name_the_row() -> None:
    header = ",".join(["label", *(f"c{number}" for number in range(299))])
    with pytest.raises(TooLarge, match="Row 1 has 300 columns"):
        read_stock(f"{header}\n".encode())


def test_a_nul_character_is_refused_with_its_row() -> None:
    with pytest.raises(BadRequest, match="Row 2 holds a NUL"):
        read_stock(b"label\nTra\x00pa\n")


def test_a_cell_far_too_long_is_named_and_the_good_rows_are_answered(library: Library) -> None:
    content = f"label\nTrapa natans\n{'x' * 40_000}\nHydrilla verticillata\n".encode()
    rows = answered(library, content)
    assert [row[1] for row in rows[1:]] == ["accepted", "none", "accepted"]
    assert "row 3, column 'label': 40,000 characters" in rows[2][-1]


@pytest.mark.parametrize(
    "cell",
    [
        '=HYPERLINK("http://example.invalid","x")',
        "+cmd|' /C calc'!A0",
        "-2+3+cmd",
        "@SUM(A1)",
        "\t=1+1",
        " =1+1",
    ],
)
def test_a_formula_comes_back_as_text(library: Library, cell: str) -> None:
    buffer = io.StringIO()
    csv.writer(buffer).writerows([["label", "note"], ["Trapa natans", cell]])
    assert answered(library, buffer.getvalue().encode())[1][1] == f"'{cell}"


@pytest.mark.parametrize("cell", ["-12.50", "+3", "12", "4in", "a=b", "", "-5%"])
def test_numbers_and_plain_words_are_left_alone(cell: str) -> None:
    assert escape_formula(cell) == cell


def test_blank_lines_and_short_rows_keep_their_place(library: Library) -> None:
    rows = answered(library, b"sku,label,qty\n1,Trapa natans,2\n\n,,\n2,Hydrilla verticillata\n")
    assert [row[:3] for row in rows[1:]] == [
        ["1", "Trapa natans", "2"],
        ["", "", ""],
        ["", "", ""],
        ["2", "Hydrilla verticillata", ""],
    ]
    assert rows[2][-1] == "no label in this row"
    assert all(len(row) == 3 + len(answer_header(QUESTION)) for row in rows)


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_the_answer_has_commas_and_keeps_the_byte_order_mark(
    library: Library, delimiter: str
) -> None:
    rows = "\ufefflabel;price\r\nTrapa natans;1,50\r\n".replace(";", delimiter)
    table = read_stock(rows.encode())
    text = "".join(stock_csv(table, StockChecker(library, QUESTION).check(table.names), QUESTION))
    assert text.startswith("\ufefflabel,price,match,")
    assert '\r\nTrapa natans,"1,50",accepted,' in text


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\0\r\n"), max_size=12)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(CELLS, CELLS), max_size=6))
def test_every_row_comes_back_in_order_with_its_cells(
    library: Library, rows: list[tuple[str, str]]
) -> None:
    buffer = io.StringIO()
    csv.writer(buffer).writerows([("label", "note"), *rows])
    back = answered(library, buffer.getvalue().encode())
    assert [row[:2] for row in back[1:]] == [
        [escape_formula(label), escape_formula(note)] for label, note in rows
    ]


def test_rows_above_the_heading_are_given_back_as_they_were(library: Library) -> None:
    content = b"Spring list;;\r\n\r\nnr;Plant;qty\r\n1;Trapa natans;2\r\n"
    table = read_stock(content)
    assert (table.labels, table.first_row) == (["Trapa natans"], 4)
    rows = answered(library, content)
    assert rows[:2] == [["Spring list", "", ""], []]
    assert rows[2][:4] == ["nr", "Plant", "qty", "match"]


def test_a_row_wider_than_the_heading_moves_no_answer_out_of_its_column(library: Library) -> None:
    content = b"label,qty\nTrapa natans,2\nHydrilla verticillata,3,extra,cell\n"
    assert "row 3 has 4 cells where the heading has 2" in read_stock(content).notes[0]
    header, *rows = answered(library, content)
    assert [row[header.index("accepted_name")] for row in rows] == [
        "Trapa natans",
        "Hydrilla verticillata",
    ]
    assert rows[1][2:4] == ["extra", "cell"]
    assert all(len(row) == len(header) for row in rows)
