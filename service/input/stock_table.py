"""A stock list from a table: where its heading is, which columns name the plant, and which rows
cannot be answered.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from service.checks.label import LineName
from service.errors import BadRequest, TooLarge
from service.input.table import Role, check_rows, naming_headings, read_table, role_of, same_heading
from service.input.table_values import MAX_CELL, MAX_COLUMNS, TOP_ROWS, Table

_SAMPLED_ROWS = 200
_NOT_GIVEN = frozenset(
    """n/a n.a. na none null nil - -- --- – — ? ?? . … ... x tbd tba unknown #n/a
    """.split()  # noqa: SIM905
)
"""Cells that people write where there is no name."""
_NOT_A_NAME = re.compile(r"(?:grand |sub[- ]?|page )?totals?:?|sum:?|carried forward", re.I)
_ERROR_CELL = re.compile(r"#(?:REF!|VALUE!|NAME\?|DIV/0!|NULL!|NUM!|SPILL!|CALC!)", re.I)
_EXAMPLES = "label, botanical name, common name, plant name, product name or item description"


@dataclass(frozen=True, slots=True)
class RowProblem:
    """A row that could not be answered in full. ``row`` counts from 1, title rows included."""

    row: int
    column: str
    detail: str

    def __str__(self) -> str:
        return f"row {self.row}, column {self.column!r}: {self.detail}"


@dataclass(frozen=True)
class StockTable:
    """A stock list, read.

    Attributes:
        header: empty cells after the headings where rows are wider than the heading.
        rows: cells as given, blank rows included.
        label_column: index of the column with the labels, or with the botanical names.
        first_row: number of the first of the rows in the file, counted from 1.
        notes: how it was read, where that was not plain.
        problems: rows with a cell where the name should be that is not one.
        preamble: rows above the heading, given back as they were.
        common_column: index of the column with common names that is read beside it.
        code_column: index of the column with the shop's own numbers.
        names: what each row calls its plant, empty for a row that cannot be answered.
        table: the file, as it was read.
    """

    header: list[str]
    rows: list[list[str]]
    label_column: int
    first_row: int = 2
    notes: tuple[str, ...] = ()
    problems: tuple[RowProblem, ...] = field(default=())
    preamble: tuple[list[str], ...] = ()
    common_column: int | None = None
    code_column: int | None = None
    names: tuple[LineName, ...] = ()
    table: Table = field(default_factory=lambda: Table([], [], ""))

    @property
    def labels(self) -> list[str]:
        """One label a row: the botanical name or label, else the common name; empty for a row
        that cannot be answered.
        """
        return [name.shown for name in self.names]

    @property
    def marked(self) -> bool:
        """Whether it came with a byte order mark."""
        return self.table.marked


def read_stock(
    content: bytes,
    *,
    column: str | None = None,
    sheet: str | None = None,
    plain: bool = False,
    pointer: str = "",
) -> StockTable:
    """Read a stock list from the bytes of a file.

    Args:
        column: heading of the column that names the plants, where the headings do not say it.
        sheet: title of the sheet of a workbook.
        plain: a text without a heading that has one column is one label a line.

    Raises:
        BadRequest: not a table, no heading for the label, nothing in it.
        TooLarge: too many columns or rows.
    """

    def headings(row: Sequence[str]) -> int:
        if column is None:
            return naming_headings(row)
        return sum(same_heading(cell, column) for cell in row)

    table = read_table(content, fitness=headings, sheet=sheet, pointer=pointer)
    filled = [index for index, row in enumerate(table.rows) if any(cell.strip() for cell in row)]
    if not filled:
        raise BadRequest(
            "The stock list is empty.",
            pointer=pointer,
            next_step="Send a heading row and one row a plant.",
        )
    top = [index for index in filled if index < TOP_ROWS]
    heading = max(top or filled[:1], key=lambda index: (headings(table.rows[index]), -index))
    if not headings(table.rows[heading]):
        if plain and column is None and max(len(table.rows[index]) for index in filled) == 1:
            return _without_heading(table)
        raise _no_label(table.rows[filled[0]], filled[0], column, pointer)
    return _stock_table(table, heading, column, pointer)


def has_heading(content: bytes) -> bool:
    """Whether a text has a heading that names the column of the labels."""
    rows = read_table(content, fitness=naming_headings).rows[:TOP_ROWS]
    return any(map(naming_headings, rows))


def _without_heading(table: Table) -> StockTable:
    """Plain text, one plant a line."""
    note = "no heading was found, so each line is read as a label"
    rows = [row or [""] for row in table.rows]
    return _named(table, ["label"], rows, 1, {"label": 0}, (*table.notes, note), ())


def _stock_table(table: Table, heading: int, column: str | None, pointer: str) -> StockTable:
    header = table.rows[heading]
    if len(header) > MAX_COLUMNS:
        raise TooLarge(
            f"Row {heading + 1} has {len(header)} columns, which", MAX_COLUMNS, pointer=pointer
        )
    body = table.rows[heading + 1 :]
    check_rows(len(body), pointer)
    columns = _columns(header, body, column)
    notes = table.notes
    widest = max((len(row) for row in body), default=0)
    if widest > len(header):
        longest = heading + 2 + next(index for index, row in enumerate(body) if len(row) == widest)
        notes = (
            *notes,
            f"row {longest} has {widest} cells where the heading has {len(header)}; the answers"
            " are after the widest row",
        )
    header = [*header, *[""] * (widest - len(header))]
    preamble = tuple(table.rows[:heading])
    return _named(table, header, body, heading + 2, columns, notes, preamble)


def _named(
    table: Table,
    header: list[str],
    rows: list[list[str]],
    first_row: int,
    columns: Mapping[Role, int],
    notes: tuple[str, ...],
    preamble: tuple[list[str], ...],
) -> StockTable:
    reader = _NameReader(table, header, first_row, columns)
    names = tuple(reader.name(number, row) for number, row in enumerate(rows, start=first_row))
    return StockTable(
        header=header,
        rows=rows,
        label_column=reader.main,
        first_row=first_row,
        notes=notes,
        problems=tuple(reader.problems),
        preamble=preamble,
        common_column=columns.get("common"),
        code_column=columns.get("code"),
        names=names,
        table=table,
    )


class _NameReader:
    """Takes the name out of each row, and notes the rows where it is not one."""

    def __init__(
        self, table: Table, header: Sequence[str], first_row: int, columns: Mapping[Role, int]
    ) -> None:
        self.problems: list[RowProblem] = []
        self._header = header
        self._columns = columns
        self._unread = table.unread
        main: Role = next(
            role for role in ("botanical", "label", "genus", "common") if role in columns
        )
        self.main = columns[main]
        self._main: Role = main
        self._headings = {cell.strip().casefold() for cell in header if role_of(cell)}

    def name(self, number: int, row: Sequence[str]) -> LineName:
        """What the row calls its plant."""
        first = self._cell(number, row, self._main)
        second = "" if self._main == "common" else self._cell(number, row, "common")
        if self._main == "genus":
            first = self._joined(first, number, row)
        return LineName(first, second)

    def _joined(self, genus: str, number: int, row: Sequence[str]) -> str:
        """Genus, species and cultivar from columns of their own."""
        species = self._cell(number, row, "species")
        if species.casefold().startswith(f"{genus.casefold()} "):
            genus = ""
        cultivar = self._cell(number, row, "cultivar").strip("'\"‘’“” ")
        return " ".join(
            part for part in (genus, species, f"'{cultivar}'" if cultivar else "") if part
        )

    def _cell(self, number: int, row: Sequence[str], role: Role) -> str:
        column = self._columns.get(role)
        if column is None or column >= len(row):
            return ""
        if (number - 1, column) in self._unread:
            return self._refused(number, column, "its formula has no stored value; save it again")
        cell = row[column].strip()
        plain = cell.casefold()
        if not cell or (plain in _NOT_GIVEN and role != self._main):
            return ""
        if len(cell) > MAX_CELL:
            detail = f"{len(cell):,} characters, where a cell holds at most {MAX_CELL:,}"
            return self._refused(number, column, f"{detail}; the other rows are answered")
        if _ERROR_CELL.fullmatch(cell):
            return self._refused(number, column, f"it holds the error {cell}")
        if plain in _NOT_GIVEN or _NOT_A_NAME.fullmatch(cell) or plain in self._headings:
            return self._refused(number, column, f"{cell!r} is not the name of a plant")
        return re.sub(r"\r\n?", "\n", cell)

    def _refused(self, number: int, column: int, detail: str) -> str:
        self.problems.append(RowProblem(number, self._header[column], detail))
        return ""


def _columns(
    header: Sequence[str], body: Sequence[Sequence[str]], column: str | None
) -> dict[Role, int]:
    """Which column has which part of the name: a botanical name or a label, and beside it the
    common name, or a label where there is no column of common names.
    """
    best = _best_columns(header)
    labels = _label_columns(header, body)
    chosen: dict[Role, int] = {"code": best["code"]} if "code" in best else {}
    if column is not None:
        asked = next(index for index, cell in enumerate(header) if same_heading(cell, column))
        return {**chosen, "label": asked}
    if "botanical" not in best and "genus" not in best and "species" in best:
        best["botanical"] = best.pop("species")
    whole: tuple[Role, ...] = ("botanical",)
    apart: tuple[Role, ...] = ("genus", "species", "cultivar")
    if "botanical" in best or "genus" in best:
        for role in whole if "botanical" in best else apart:
            if role in best:
                chosen[role] = best[role]
        if labels and "common" not in best and not _are_codes(labels[0], body):
            chosen["common"] = labels[0]
    elif labels:
        chosen["label"] = labels[0]
    elif "cultivar" in best:
        chosen["label"] = best["cultivar"]
    if "common" in best:
        chosen["common"] = best["common"]
    return chosen


def _best_columns(header: Sequence[str]) -> dict[Role, int]:
    """The column of each role with the surest heading."""
    ranked: dict[Role, tuple[int, int]] = {}
    for index, cell in enumerate(header):
        found = role_of(cell)
        if found is not None:
            role, rank = found
            ranked[role] = min(ranked.get(role, (rank, index)), (rank, index))
    return {role: index for role, (_, index) in ranked.items()}


def _label_columns(header: Sequence[str], body: Sequence[Sequence[str]]) -> list[int]:
    """Columns of labels, the surest heading first, those that hold codes last."""
    ranked = [
        (_are_codes(index, body), found[1], index)
        for index, cell in enumerate(header)
        if (found := role_of(cell)) is not None and found[0] == "label"
    ]
    return [index for _, _, index in sorted(ranked)]


def _are_codes(column: int, body: Sequence[Sequence[str]]) -> bool:
    """Whether most cells of a column are numbers or codes such as ``HW-001``."""
    cells = [row[column].strip() for row in body[:_SAMPLED_ROWS] if column < len(row)]
    cells = [cell for cell in cells if cell]
    codes = sum(
        bool(re.search(r"\d", cell)) and not re.search(r"\s|[^\W\d_]{4}", cell) for cell in cells
    )
    return bool(cells) and codes * 2 > len(cells)


def _no_label(header: Sequence[str], index: int, column: str | None, pointer: str) -> BadRequest:
    shown = ", ".join(repr(cell[:40]) for cell in header[:12])
    if column is not None:
        return BadRequest(
            f"No column is headed {column!r}: row {index + 1} has {shown}.",
            pointer="column",
            next_step="Give the heading of one column.",
        )
    return BadRequest(
        f"No column holds the labels: row {index + 1} has the headings {shown}.",
        pointer=pointer,
        next_step=f"Head one column {_EXAMPLES}, or name it with --column.",
    )


def rows_without_name(table: StockTable) -> Iterator[tuple[int, str]]:
    """Number of each row that cannot be answered, and why."""
    problems = {problem.row: problem for problem in table.problems}
    for number, name in enumerate(table.names, start=table.first_row):
        if not name.shown:
            problem = problems.get(number)
            yield number, str(problem) if problem else "no label in this row"
