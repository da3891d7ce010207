"""Delimited text: finding out how a table is written, and reading its rows with every row's
width checked.
"""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from data_loaders.archives import LIMITS, Limits
from data_loaders.text_lines import text_lines
from service.errors import BadFile

DELIMITERS = ("\t", ",", ";", "|")
_STAND_IN = "\ufdd0"  # a code point that no text may hold, for delimiters of several letters


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a table is written. An empty ``quote`` means that quote marks are plain letters."""

    delimiter: str = ","
    quote: str = '"'
    terminator: str = "\n"
    encoding: str = "utf-8"
    header_lines: int = 0


def sniff(start: bytes, *, file: str, encoding: str = "") -> Dialect:
    """Dialect of a table whose first line holds its column names, from its first bytes.

    The delimiter is the one that separates the header into most columns. Tables with tabs quote
    nothing, unless the header or the cells under it are quoted.

    Args:
        encoding: of the text, where a person knows it.

    Raises:
        BadFile: the header is not text, or no delimiter separates it.
    """
    marked = start.startswith((b"\xff\xfe", b"\xfe\xff"))
    encoding = encoding or ("utf-16" if marked else "utf-8")
    try:
        text = start.decode(encoding, errors="ignore").removeprefix("\ufeff")
    except (UnicodeError, LookupError) as error:
        raise BadFile(file, f"its header is not text ({error}).", place="line 1") from error
    ends = [place for place in (text.find("\r"), text.find("\n")) if place >= 0]
    header = text[: min(ends)] if ends else text
    delimiter = max(DELIMITERS, key=header.count)
    if not header.count(delimiter):
        raise BadFile(
            file,
            "its first line is not a row of column names.",
            place="line 1",
            next_step="Give a table with a header, its columns separated by tab, comma,"
            " semicolon or bar.",
        )
    quoted = delimiter != "\t" or header.startswith('"') or _quotes_cells(text, delimiter)
    quote = '"' if quoted else ""
    terminator = "\r" if ends and "\n" not in text else "\n"
    return Dialect(delimiter, quote, terminator, encoding, header_lines=1)


_QUOTED_SHARE = 0.2
_LOOKED_AT = 1_000


def _quotes_cells(text: str, delimiter: str) -> bool:
    """Whether the rows under a plain header quote cells, as spreadsheet programs write text: a
    fifth of the rows or more has a cell in quote marks, and no cell has them otherwise.
    """
    lines = [line.rstrip("\r") for line in text.split("\n")[1 : _LOOKED_AT + 1]]
    quoting = 0
    for line in lines[:-1] if len(lines) > 1 else lines:
        cells = [cell for cell in line.split(delimiter) if cell.startswith('"')]
        if any(len(cell) < 2 or not cell.endswith('"') for cell in cells):
            return False
        if any(cell[1:-1].replace('""', "").count('"') for cell in cells):
            return False
        quoting += bool(cells)
    return quoting > 0 and quoting >= _QUOTED_SHARE * max(1, len(lines) - 1)


def rows(
    stream: BinaryIO,
    dialect: Dialect,
    *,
    file: str,
    width: int | None = None,
    limits: Limits = LIMITS,
) -> Iterator[list[str]]:
    """Rows of cells, header lines left out, empty lines skipped.

    Args:
        width: cells that every row has; without it the first row sets it.

    Raises:
        BadFile: a row of another width, quote marks that do not close, or what ``text_lines``
            refuses; names the line.
    """
    lines = text_lines(
        stream, file=file, encoding=dialect.encoding, terminator=dialect.terminator, limits=limits
    )
    for _ in range(dialect.header_lines):
        if next(lines, None) is None:
            return
    for number, cells in _split(lines, dialect, file, limits):
        if width is None:
            width = len(cells)
        if len(cells) == width + 1 and not cells[-1]:
            cells.pop()  # a delimiter at the end of the line opens no column
        if len(cells) != width:
            raise BadFile(
                file,
                wrong_width(len(cells), width),
                place=f"line {number + dialect.header_lines}",
                next_step="Mend that line, or fetch the file again; it may have been cut or"
                " joined.",
            )
        yield cells


def wrong_width(found: int, width: int) -> str:
    """What to say of a row of another width than the table's."""
    return (
        f"{found} columns where the table has {width}."
        if found < width
        else f"more than the table's {width} columns."
    )


def header(stream: BinaryIO, dialect: Dialect, *, file: str) -> list[str]:
    """Column names in the first line."""
    lines = text_lines(stream, file=file, encoding=dialect.encoding, terminator=dialect.terminator)
    first = next((cells for _, cells in _split(lines, dialect, file, LIMITS)), None)
    if first is None:
        raise BadFile(file, "it is empty.")
    return first


def _split(
    lines: Iterator[str], dialect: Dialect, file: str, limits: Limits
) -> Iterator[tuple[int, list[str]]]:
    if dialect.quote:
        yield from _split_quoted(lines, dialect, file, limits)
        return
    for number, line in enumerate(lines, 1):
        if line:
            yield number, line.split(dialect.delimiter)


def _split_quoted(
    lines: Iterator[str], dialect: Dialect, file: str, limits: Limits
) -> Iterator[tuple[int, list[str]]]:
    several = len(dialect.delimiter) > 1
    delimiter = _STAND_IN if several else dialect.delimiter
    fed = (
        line.replace(dialect.delimiter, _STAND_IN) + "\n" if several else line + "\n"
        for line in lines
    )
    csv.field_size_limit(limits.line_characters)
    reader = csv.reader(
        fed, delimiter=delimiter, quotechar=dialect.quote, doublequote=True, strict=True
    )
    while True:
        number = reader.line_num + 1
        try:
            cells = next(reader, None)
        except csv.Error as error:
            raise BadFile(
                file,
                f"quoting that cannot be read ({error}).",
                place=f"line {number + dialect.header_lines}",
            ) from error
        if cells is None:
            return
        if cells:
            yield (
                number,
                [cell.replace(_STAND_IN, dialect.delimiter) for cell in cells]
                if several
                else cells,
            )
