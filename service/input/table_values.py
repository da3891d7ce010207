"""A table once it is read, and the limits of one."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

MAX_COLUMNS = 250
MAX_ROWS = 200_000
MAX_CELL = 32_767
"""Characters in a cell, the limit of the common spreadsheet formats."""
TOP_ROWS = 40
"""A heading further down is not looked for: rows above it are a title, a date, an address."""

Fitness = Callable[[Sequence[str]], int]
"""How many headings that mean something are in a row."""


@dataclass(frozen=True)
class Table:
    """A table, read.

    Attributes:
        rows: cells as they are in the file.
        lines: for each row the line of the text where it begins, or its row in the sheet, from 1.
        written_as: encoding and delimiter, or the sheet, for a person.
        marked: whether the text began with a byte order mark.
        notes: what had to be decided or mended in reading.
        sheet: title of the sheet read; empty for text.
        workbook: the workbook itself; None for text.
        merged: areas of the sheet that are one cell: first row and column, last row and column,
            from 0.
        unread: cells, by row and column from 0, whose formula has no stored value; the row holds
            the formula itself.
    """

    rows: list[list[str]]
    lines: list[int]
    written_as: str
    marked: bool = False
    notes: tuple[str, ...] = ()
    sheet: str = ""
    workbook: bytes | None = field(default=None, repr=False)
    merged: tuple[tuple[int, int, int, int], ...] = ()
    unread: Mapping[tuple[int, int], str] = field(default_factory=dict)

    def filled(self) -> list[list[str]]:
        """The rows with every merged area filled with its value."""
        rows = [list(row) for row in self.rows]
        for top, left, bottom, right in self.merged:
            value = rows[top][left] if top < len(rows) and left < len(rows[top]) else ""
            for row in rows[top : bottom + 1]:
                row.extend([""] * (right + 1 - len(row)))
                row[left : right + 1] = [value] * (right + 1 - left)
        return rows
