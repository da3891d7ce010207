"""Delimited text (RFC 4180) that a spreadsheet opens as it was meant."""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence

from service.checks.stock import StockLine, StockQuestion
from service.input.stock_table import StockTable
from service.output.stock_columns import AnswerTail, answer_header, answer_rows

BYTE_ORDER_MARK = "\ufeff"
"""Without it a spreadsheet takes UTF-8 for the code page of the desk, and ``§`` for two letters."""
_PIECE = 1 << 16
_TAILS_KEPT = 2_000
_RUNS = re.compile(r"^\s*[=+\-@](?=[\s\S]*[\w(\"'$])")
_NUMBER = re.compile(r"^\s*[+-]?\s*(?:US)?[$€£]?\s*\d[\d.,\s]*%?\s*$")


def escape_formula(cell: str) -> str:
    """A cell that no spreadsheet runs: one that would be a formula, and is not a number, is marked
    as text by an apostrophe.

    >>> escape_formula("=1+1"), escape_formula("-"), escape_formula("-12.50")
    ("'=1+1", '-', '-12.50')
    """
    if not cell or cell[0].isalnum():
        return cell
    return f"'{cell}" if _RUNS.match(cell) and not _NUMBER.match(cell) else cell


def escaped(row: Iterable[str]) -> list[str]:
    """A row with every cell that would run marked as text."""
    return [escape_formula(cell) for cell in row]


def csv_pieces(
    rows: Iterable[Sequence[str]], *, delimiter: str = ",", marked: bool = False
) -> Iterator[str]:
    """Rows as pieces of delimited text. Cells that come from elsewhere must be escaped before.

    Args:
        marked: begin with a byte order mark.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=delimiter, lineterminator="\r\n")
    if marked:
        yield BYTE_ORDER_MARK
    for row in rows:
        writer.writerow(row)
        if buffer.tell() > _PIECE:
            yield _drained(buffer)
    yield _drained(buffer)


def stock_csv(
    table: StockTable,
    lines: Iterable[StockLine],
    question: StockQuestion,
    *,
    marked: bool | None = None,
) -> Iterator[str]:
    """The rows given, in their order, with the answers beside them, separated by commas however
    the list was: a program that asks for CSV reads commas.

    Args:
        marked: begin with a byte order mark; by default as the list did.
    """
    width = len(table.header)
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    if table.marked if marked is None else marked:
        yield BYTE_ORDER_MARK
    writer.writerows(map(escaped, table.preamble))
    writer.writerow(escaped([*table.header, *answer_header(question)]))
    yield _drained(buffer)
    # What a plant's lines share is long and is written out once, as text that is ready to send.
    last: dict[AnswerTail, str] = {}
    pieces: list[str] = []
    size = 0
    for row, (match, plant, sure), tail in answer_rows(table, lines, question):
        blanks = [""] * (width - len(row))
        writer.writerow([*escaped(row), *blanks, match, escape_formula(plant), sure])
        head = _drained(buffer)
        if tail not in last:
            if len(last) >= _TAILS_KEPT:
                last.clear()
            writer.writerow(escaped(tail.cells))
            last[tail] = _drained(buffer)
        pieces += (head.removesuffix("\r\n"), ",", last[tail])
        size += len(head) + len(last[tail])
        if size > _PIECE:
            yield "".join(pieces)
            pieces, size = [], 0
    yield "".join(pieces)


def _drained(buffer: io.StringIO) -> str:
    piece = buffer.getvalue()
    buffer.seek(0)
    buffer.truncate()
    return piece
