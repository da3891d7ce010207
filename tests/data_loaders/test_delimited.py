"""How a table is written, and its rows."""

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data_loaders.delimited import Dialect, rows, sniff
from service.errors import BadFile


def read(content: str, dialect: Dialect, width: int | None = None) -> list[list[str]]:
    return list(
        rows(io.BytesIO(content.encode(dialect.encoding)), dialect, file="table.txt", width=width)
    )


def test_the_two_cases_of_rfc_4180() -> None:
    # RFC 4180, section 2, rules 5 to 7.
    assert read('"aaa","b""bb","ccc"\r\n', Dialect()) == [["aaa", 'b"bb', "ccc"]]
    assert read('1234,"Miller, 1887"\r\n', Dialect()) == [["1234", "Miller, 1887"]]


@pytest.mark.parametrize(
    ("start", "expected"),
    [
        (b"a\tb\tc\n", Dialect("\t", "", header_lines=1)),
        (b'"a"\t"b"\n', Dialect("\t", '"', header_lines=1)),
        (b"\xef\xbb\xbfa,b\r\n1,2", Dialect(",", '"', header_lines=1)),
        (b"a;b,c;d\n", Dialect(";", '"', header_lines=1)),
        (b"a|b\r1|2\r", Dialect("|", '"', terminator="\r", header_lines=1)),
        ("a\tb\n1\t2\n".encode("utf-16"), Dialect("\t", "", encoding="utf-16", header_lines=1)),
    ],
)
def test_a_dialect_is_found_from_the_header(start: bytes, expected: Dialect) -> None:
    assert sniff(start, file="t") == expected


def test_a_file_without_a_header_row_is_refused() -> None:
    with pytest.raises(BadFile, match="not a row of column names"):
        sniff(b"just words\n", file="t")


def test_a_row_of_another_width_is_refused_with_its_line() -> None:
    table = Dialect("\t", "", header_lines=1)
    with pytest.raises(BadFile, match="line 4: 2 columns where the table has 3"):
        read("a\tb\tc\n1\t2\t3\n\n4\t5\n", table, width=3)
    with pytest.raises(BadFile, match="line 3: more than the table's 3 columns"):
        read("a\tb\tc\n1\t2\t3\n4\t5\t6\t7\n", table, width=3)


def test_a_delimiter_at_the_end_of_a_line_opens_no_column() -> None:
    assert read("1\t2\t3\t\n4\t5\t6\n", Dialect("\t", ""), width=3) == [
        ["1", "2", "3"],
        ["4", "5", "6"],
    ]


def test_quote_marks_are_plain_letters_where_nothing_is_quoted() -> None:
    assert read('1\t3" pot\t"\n', Dialect("\t", "")) == [["1", '3" pot', '"']]


def test_a_quote_that_does_not_close_is_refused() -> None:
    with pytest.raises(BadFile, match="quoting that cannot be read"):
        read('1,"2\n3,4\n', Dialect())


@settings(max_examples=60)
@given(
    st.lists(
        st.lists(
            st.text(st.characters(codec="utf-8", exclude_characters="\x00\r"), max_size=8),
            min_size=3,
            max_size=3,
        ),
        max_size=8,
    ),
    st.sampled_from([",", ";", "|", "\t", "||", "-&-"]),
)
def test_quoted_rows_come_back_as_they_went_in(table: list[list[str]], delimiter: str) -> None:
    table = [row for row in table if any(row)]
    written = "".join(
        delimiter.join('"' + cell.replace('"', '""') + '"' for cell in row) + "\n" for row in table
    )
    assert read(written, Dialect(delimiter)) == table
    if len(delimiter) == 1:
        assert list(csv.reader(io.StringIO(written, newline=""), delimiter=delimiter)) == table
