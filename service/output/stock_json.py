"""A stock check as JSON, written line by line, so that its length costs no memory."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from service.checks.stock import StockLine, StockQuestion, Verdicts
from service.input.stock_table import StockTable, rows_without_name
from service.output.models.law import StockAnswer, StockRow, written_finding
from service.output.models.shape import written as written_json
from service.output.shipping import card_text
from service.regulation.coverage import StateStanding
from service.regulation.finding import Finding
from service.values.vocabulary import BuildId

_VERDICT_BYTES_KEPT = 8_000_000
"""Written verdicts kept for later lines of the same plant, of one answer."""
_FINDINGS_KEPT = 2_000
"""Of one answer; some 2 kB each on average (measured)."""


@dataclass(frozen=True, slots=True)
class _Written:
    """Verdicts as JSON: the values of ``findings`` and ``lanes``."""

    verdicts: Verdicts
    findings: bytes
    lanes: bytes


def write_stock_json(
    table: StockTable,
    lines: Iterable[StockLine],
    question: StockQuestion,
    build_id: BuildId,
    standings: Sequence[StateStanding] = (),
) -> Iterator[bytes]:
    """The answer in pieces, with the keys of ``StockAnswer`` in their order."""
    frame = StockAnswer(
        store_build=build_id,
        as_of=question.on,
        lines=(),
        standings=tuple(standings),
        notes=table.notes,
    )
    before, after = written_json(frame).split(b'"lines":[]', 1)
    problems = {problem.row: str(problem) for problem in table.problems}
    problems |= dict(rows_without_name(table))
    writer = _VerdictWriter()
    yield before + b'"lines":['
    separator = b""
    keys = _keys(table.header)
    for number, (cells, line) in enumerate(
        zip(table.rows, lines, strict=True), start=table.first_row
    ):
        written = writer.written(line.verdicts)
        row = StockRow(
            row=number,
            name=line.resolution,
            answered=line.answered,
            columns=dict(zip(keys, cells, strict=False)),
            findings=(),
            lanes=(),
            text=card_text(line, question),
            problem=problems.get(number),
        )
        head, tail = written_json(row).rsplit(b'"findings":[],"lanes":[]', 1)
        yield b'%b%b"findings":' % (separator, head)
        yield written.findings
        yield b',"lanes":%b%b' % (written.lanes, tail)
        separator = b","
    yield b"]" + after


def _keys(header: Sequence[str]) -> list[str]:
    """A key of its own for each column.

    >>> _keys(["label", "Price", "Price", ""])
    ['label', 'Price', 'Price (2)', 'column 4']
    """
    keys: list[str] = []
    for place, heading in enumerate(header, start=1):
        key, count = heading.strip() or f"column {place}", 1
        while key in keys:
            count += 1
            key = f"{heading.strip()} ({count})"
        keys.append(key)
    return keys


class _VerdictWriter:
    """Writes verdicts once, for lines that mean the same plant share them."""

    def __init__(self) -> None:
        self._kept: dict[int, _Written] = {}
        self._size = 0
        # With its finding: an id may come again once its object is gone.
        self._findings: dict[int, tuple[Finding, bytes]] = {}

    def written(self, verdicts: Verdicts) -> _Written:
        kept = self._kept.get(id(verdicts))
        if kept is not None:
            return kept
        if self._size > _VERDICT_BYTES_KEPT:
            self._kept.clear()
            self._size = 0
        written = _Written(
            verdicts,
            _array(self._texts(verdicts.findings)),
            _array(map(written_json, verdicts.lanes)),
        )
        self._kept[id(verdicts)] = written
        self._size += len(written.findings) + len(written.lanes)
        return written

    def _texts(self, findings: Sequence[Finding]) -> Iterator[bytes]:
        """Each finding as JSON; nearly all are those of an earlier line."""
        known = self._findings
        if len(known) > _FINDINGS_KEPT:
            known.clear()
        for finding in findings:
            if id(finding) not in known:
                known[id(finding)] = finding, written_finding(finding)
            yield known[id(finding)][1]


def _array(values: Iterable[bytes]) -> bytes:
    return b"[" + b",".join(values) + b"]"
