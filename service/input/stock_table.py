"""A stock list as a delimited text: read whatever a spreadsheet exported, give the same rows back
with the answers beside them.

RFC 4180 in and out, with the delimiter and the byte order mark of the input. Cells that a
spreadsheet would run as a formula are made text on the way out.
"""

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from service.checks.stock import StockLine, StockQuestion, Verdicts
from service.errors import BadRequest, TooLarge

LABEL_HEADINGS = (
    "label",
    "botanical name",
    "scientific name",
    "name",
    "plant",
    "item",
    "description",
)
"""Headings that the label may stand under, the surest first."""
MAX_COLUMNS = 250
MAX_CELL = 32_767
"""Characters in a cell, the limit of the common spreadsheet formats."""
MAX_ROWS = 200_000

_DELIMITERS = ",;\t|"
_TITLE_ROWS = 12
"""A heading further down is not looked for: rows above it are a title, a date, an address."""
_FORMULA = re.compile(r"^\s*[=+\-@\t\r]")
_NUMBER = re.compile(r"^\s*[+-]?[\d.,\s]+%?\s*$")


@dataclass(frozen=True, slots=True)
class RowProblem:
    """A row that could not be answered in full. ``row`` counts from 1 with the heading row."""

    row: int
    column: str
    detail: str

    def __str__(self) -> str:
        return f"row {self.row}, column {self.column!r}: {self.detail}"


@dataclass(frozen=True)
class StockTable:
    """A stock list, read.

    Attributes:
        rows: cells as given, blank rows included.
        first_row: number of the first of them in the file, counted from 1.
        label_column: index of the column with the labels.
        notes: how it was read, where that was not plain.
        problems: cells too long to be a label.
        preamble: rows above the heading, given back as they were.
    """

    header: list[str]
    rows: list[list[str]]
    label_column: int
    first_row: int = 2
    delimiter: str = ","
    marked: bool = False
    notes: tuple[str, ...] = ()
    problems: tuple[RowProblem, ...] = field(default=())
    preamble: tuple[list[str], ...] = ()

    @property
    def labels(self) -> list[str]:
        """The label of each row, empty where there is none or it is too long to be one."""
        spoiled = {problem.row for problem in self.problems}
        return [
            self._label(row) if number not in spoiled else ""
            for number, row in enumerate(self.rows, start=self.first_row)
        ]

    def _label(self, row: list[str]) -> str:
        return row[self.label_column].strip() if self.label_column < len(row) else ""


def read_stock(content: bytes, *, pointer: str = "") -> StockTable:
    """Read a stock list from bytes.

    Raises:
        BadRequest: no text in a known encoding, no heading for the label, nothing in it.
        TooLarge: too many columns or rows.
    """
    text, marked, notes = _decoded(content, pointer)
    delimiter = _delimiter(text)
    rows = _cells(text, delimiter, pointer)
    heading = _heading_row(rows)
    if heading is None:
        raise BadRequest(
            "The stock list is empty.",
            pointer=pointer,
            next_step="Send a heading row and one row a plant.",
        )
    header = rows[heading]
    if len(header) > MAX_COLUMNS:
        raise TooLarge(
            f"Row {heading + 1} has {len(header)} columns, which", MAX_COLUMNS, pointer=pointer
        )
    body = rows[heading + 1 :]
    if len(body) > MAX_ROWS:
        raise TooLarge(f"The list has {len(body):,} rows, which", MAX_ROWS, pointer=pointer)
    label_column = _label_column(header, heading, pointer)
    problems = tuple(_long_labels(header, body, label_column, heading + 2))
    widest = max((len(row) for row in body), default=0)
    if widest > len(header):
        longest = heading + 2 + next(index for index, row in enumerate(body) if len(row) == widest)
        notes = (
            *notes,
            f"row {longest} has {widest} cells where the heading has {len(header)}; the answers stand after the widest row",
        )
    return StockTable(
        [*header, *[""] * (widest - len(header))],
        body,
        label_column,
        heading + 2,
        delimiter,
        marked,
        notes,
        problems,
        tuple(rows[:heading]),
    )


def write_stock(
    table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Iterator[str]:
    """The rows given, in their order, with the answers beside them, as pieces of delimited text."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=table.delimiter, lineterminator="\r\n")
    if table.marked:
        yield "\ufeff"
    writer.writerows([harmless(cell) for cell in row] for row in table.preamble)
    writer.writerow([*map(harmless, table.header), *answer_header(question)])
    spoiled = {problem.row: problem for problem in table.problems}
    width = len(table.header)
    tails: dict[int, list[str]] = {}
    for number, (row, line) in enumerate(
        zip(table.rows, lines, strict=True), start=table.first_row
    ):
        padded = [*map(harmless, row), *[""] * (width - len(row))]
        problem = spoiled.get(number)
        answer = (
            _unanswered(question, str(problem) if problem else "no label in this row")
            if not line.label
            else _answer(line, tails)
        )
        writer.writerow([*padded, *answer])
        if buffer.tell() > 1 << 16:
            yield _drained(buffer)
    yield _drained(buffer)


def answer_header(question: StockQuestion) -> list[str]:
    """Headings of the answer columns."""
    outcomes = [
        f"{jurisdiction}:{act}" for jurisdiction in question.jurisdictions for act in question.acts
    ]
    lanes = (
        [f"{question.origin}>{jurisdiction}:ship" for jurisdiction in question.jurisdictions]
        if question.origin
        else []
    )
    return ["match", "accepted_name", "confirmed", *outcomes, *lanes, "citations", "reasons"]


def harmless(cell: str) -> str:
    """A cell that no spreadsheet runs: one that begins like a formula, and is no number, is
    marked as text by an apostrophe.
    """
    return f"'{cell}" if _FORMULA.match(cell) and not _NUMBER.match(cell) else cell


def _answer(line: StockLine, tails: dict[int, list[str]]) -> list[str]:
    resolution = line.resolution
    names = "; ".join(candidate.accepted_name for candidate in resolution.candidates)
    # Lines that mean the same plant share one Verdicts value, so its columns are written out but
    # once.
    tail = tails.get(id(line.verdicts))
    if tail is None:
        tail = tails[id(line.verdicts)] = _verdict_columns(line.verdicts)
    *outcomes, citations, reasons = tail
    told = " | ".join(part for part in (resolution.to_confirm, reasons) if part)
    return [
        resolution.match,
        harmless(names),
        "yes" if resolution.confirmed else "no",
        *outcomes,
        harmless(citations),
        harmless(told),
    ]


def _verdict_columns(verdicts: Verdicts) -> list[str]:
    cited = dict.fromkeys(
        f"{citation.jurisdiction} {citation.citation} ({citation.class_name}: {citation.name_as_listed})"
        for finding in verdicts.findings
        for citation in finding.citations
    )
    reasons = dict.fromkeys(
        f"{finding.jurisdiction} {finding.act}: {'' if finding.verified else '(unverified) '}{finding.reasons[0]}"
        for finding in verdicts.findings
        if finding.outcome != "no-entry-found"
    )
    lanes = dict.fromkeys(
        f"{lane.origin} to {lane.destination}: {reason}"
        for lane in verdicts.lanes
        for reason in lane.reasons[:1]
    )
    rules = dict.fromkeys(
        f"{rule.title} (no law): {rule.reason}"
        for finding in verdicts.findings
        for rule in finding.own_rules
    )
    outcomes = [finding.outcome for finding in verdicts.findings] + [
        lane.outcome for lane in verdicts.lanes
    ]
    return [*outcomes, "; ".join(cited), " | ".join((*reasons, *lanes, *rules))]


def _unanswered(question: StockQuestion, why: str) -> list[str]:
    blanks = [""] * (len(answer_header(question)) - 5)
    return ["none", "", "no", *blanks, "", why]


def _drained(buffer: io.StringIO) -> str:
    piece = buffer.getvalue()
    buffer.seek(0)
    buffer.truncate()
    return piece


def _decoded(content: bytes, pointer: str) -> tuple[str, bool, tuple[str, ...]]:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return _strict(content, "utf-16", pointer), False, ("read as UTF-16",)
    marked = content.startswith(codecs.BOM_UTF8)
    try:
        text = content.decode("utf-8-sig")
        notes: tuple[str, ...] = ()
    except UnicodeDecodeError:
        text = _strict(content, "cp1252", pointer)
        notes = ("read as Windows-1252, since it is no UTF-8; check names with accents",)
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise BadRequest(
            f"Row {line} holds a NUL character: this is no text file.",
            pointer=pointer,
            next_step="Export it as CSV UTF-8.",
        )
    return text, marked, notes


def _strict(content: bytes, encoding: str, pointer: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        row = content[: error.start].count(b"\n") + 1
        raise BadRequest(
            f"The text cannot be read: byte {error.start} in row {row} is neither UTF-8 nor {encoding}.",
            pointer=pointer,
            next_step="Export it as CSV UTF-8.",
        ) from error


def _delimiter(text: str) -> str:
    """The delimiter under which one of the first rows holds a heading for the label; else the
    one that the first row has most of.
    """
    top = [line for line in text.splitlines()[:_TITLE_ROWS] if line.strip()]

    def fitness(each: str) -> tuple[bool, int]:
        return any(map(_has_label, csv.reader(top, delimiter=each))), top[0].count(
            each
        ) if top else 0

    return max(_DELIMITERS, key=fitness)


def _heading_row(rows: Sequence[Sequence[str]]) -> int | None:
    """The first of the top rows that holds a heading for the label; else the first row that is
    not blank.
    """
    filled = [index for index, row in enumerate(rows) if any(cell.strip() for cell in row)]
    labelled = (index for index in filled if index < _TITLE_ROWS and _has_label(rows[index]))
    return next(labelled, filled[0] if filled else None)


def _has_label(header: Sequence[str]) -> bool:
    return any(_plain(cell) in LABEL_HEADINGS for cell in header)


def _cells(text: str, delimiter: str, pointer: str) -> list[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    csv.field_size_limit(10_000_000)
    try:
        return list(reader)
    except csv.Error as error:
        raise BadRequest(
            f"Row {reader.line_num} cannot be read: {error}.",
            pointer=pointer,
            next_step="Export it as CSV UTF-8.",
        ) from error


def _label_column(header: list[str], heading: int, pointer: str) -> int:
    plain = [_plain(cell) for cell in header]
    for heading_name in LABEL_HEADINGS:
        if heading_name in plain:
            return plain.index(heading_name)
    shown = ", ".join(repr(cell[:40]) for cell in header[:12])
    raise BadRequest(
        f"No column holds the labels: row {heading + 1} has the headings {shown}.",
        pointer=pointer,
        next_step=f"Name one column {', '.join(LABEL_HEADINGS[:-1])} or {LABEL_HEADINGS[-1]}.",
    )


def _plain(heading: str) -> str:
    return re.sub(r"[\s_-]+", " ", heading).strip().casefold()


def _long_labels(
    header: list[str], rows: list[list[str]], label_column: int, first_row: int
) -> Iterator[RowProblem]:
    for number, row in enumerate(rows, start=first_row):
        if label_column < len(row) and len(row[label_column]) > MAX_CELL:
            detail = f"{len(row[label_column]):,} characters, where a cell holds at most {MAX_CELL:,}; the other rows are answered"
            yield RowProblem(number, header[label_column], detail)
