"""A table kept by hand, CSV or workbook, as rows of tidy texts with their numbers in the file;
cells merged into one are filled with its value.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from service.errors import BadFile, BadRequest
from service.input.table import read_table

_MOST_BYTES = 32 << 20  # of a list that people keep by hand; common practice, no source


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
    content = _content(path)
    if path.suffix.lower() in (".xlsx", ".xlsm") and not content.startswith(b"PK"):
        raise BadFile(
            path.name, "it is not a workbook.", next_step="Save it as .xlsx or as CSV UTF-8."
        )
    try:
        table = read_table(content)
    except BadRequest as error:
        raise BadFile(path.name, error.detail, next_step=error.next_step) from error
    rows = tuple(
        GridRow(number, tuple(map(_tidy, cells)))
        for number, cells in zip(table.lines, table.filled(), strict=True)
    )
    if all(row.is_blank for row in rows):
        raise BadFile(path.name, "it holds no text.")
    return Grid(rows, table.written_as, table.notes)


def _content(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > _MOST_BYTES:
            raise BadFile(
                path.name,
                f"it is larger than {_MOST_BYTES >> 20} MB.",
                next_step="Split it, or keep only the list itself.",
            )
        return path.read_bytes()
    except OSError as error:
        raise BadFile(path.name, f"it cannot be opened: {error.strerror}.") from error


def _tidy(cell: str) -> str:
    return " ".join(cell.replace("\xa0", " ").replace("\ufeff", "").split())


def padded(cells: Sequence[str], width: int) -> tuple[str, ...]:
    """Cells brought to a width."""
    return (*cells[:width], *("" for _ in range(width - len(cells))))
