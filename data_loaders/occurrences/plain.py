"""The parts of a table as plain text that DuckDB and Spark read exactly as they are written.

Most tables are so already, or once they are unpacked. Those in another encoding, with other line
ends or with delimiters of several letters are written anew, tab by tab.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

from data_loaders.archives import is_gzip, is_zip, open_archive, open_data
from data_loaders.delimited import Dialect, rows
from data_loaders.occurrences.scan import scan_text

PLAIN = Dialect(delimiter="\t", quote="", header_lines=0)
JOINTS = str.maketrans("\t\r\n", "   ")


class Delimited(Protocol):
    """A delimited table in one or more parts."""

    @property
    def path(self) -> Path: ...
    @property
    def dialect(self) -> Dialect: ...
    @property
    def width(self) -> int | None: ...
    def part_name(self, member: str) -> str: ...


@dataclass(frozen=True, slots=True)
class PlainPart:
    """A part as a text file.

    Attributes:
        rows: lines that hold a row; None where quoting leaves that open.
    """

    name: str
    path: Path
    dialect: Dialect
    rows: int | None


def plain_part(table: Delimited, member: str, workspace: Path) -> PlainPart:
    """One part of a table as plain text, in ``workspace`` unless it is so where it lies.

    Raises:
        BadFile: it is damaged, or not a text table.
    """
    name = table.part_name(member)
    dialect = table.dialect
    target = workspace / "part.txt"
    if not _is_readable(dialect) or table.width is None:
        return _written_anew(table, member, target)
    path = table.path
    with _opened(path, member) as stream:
        if is_zip(path) or is_gzip(path):
            with target.open("wb") as out:
                lines = scan_text(stream, file=name, copy_to=out)
            path = target
        else:
            lines = scan_text(stream, file=name)
    if lines.mixed_ends:
        return _written_anew(table, member, workspace / "anew.txt")
    filled = None if dialect.quote else lines.filled - dialect.header_lines
    return PlainPart(name, path, dialect, filled)


def _is_readable(dialect: Dialect) -> bool:
    return (
        len(dialect.delimiter) == 1
        and dialect.terminator == "\n"
        and dialect.encoding.lower().replace("_", "-") in ("utf-8", "utf8")
    )


def _written_anew(table: Delimited, member: str, target: Path) -> PlainPart:
    name = table.part_name(member)
    count = 0
    with _opened(table.path, member) as stream, target.open("w", encoding="utf-8") as out:
        for cells in rows(stream, table.dialect, file=name, width=table.width):
            out.write("\t".join(cell.translate(JOINTS) for cell in cells) + "\n")
            count += 1
    return PlainPart(name, target, PLAIN, count)


@contextmanager
def _opened(path: Path, member: str) -> Iterator[BinaryIO]:
    """A part, whatever it is packed in."""
    if member:
        with open_archive(path) as archive, archive.open(member) as stream:
            yield stream
    else:
        with open_data(path) as stream:
            yield stream
