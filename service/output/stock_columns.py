"""The columns that an answered stock list has beside its own, as plain text."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from service.checks.stock import StockLine, StockQuestion, Verdicts
from service.input.stock_table import StockTable, rows_without_name
from service.output.words import own_rule_sentence

_CHARACTERS_KEPT = 16_000_000
"""Characters of answers kept for later lines of the same plant."""


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
    named = ["match", "accepted_name", "confirmed"]
    return [*named, *outcomes, *lanes, "own_rules", "citations", "reasons"]


@dataclass(frozen=True, slots=True, eq=False)
class AnswerTail:
    """The columns after ``confirmed``. Lines that mean the same plant share one of these."""

    cells: tuple[str, ...]


def answer_rows(
    table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Iterator[tuple[list[str], tuple[str, str, str], AnswerTail]]:
    """Each row of the list, its ``match``, ``accepted_name`` and ``confirmed``, and the other
    columns of the answer, in order. A row that gives no name has no outcome, and its reason says
    why.
    """
    unanswered = dict(rows_without_name(table))
    blanks = [""] * (len(answer_header(question)) - 4)
    tails = _Tails()
    numbered = enumerate(zip(table.rows, lines, strict=True), start=table.first_row)
    for number, (row, line) in numbered:
        resolution = line.resolution
        if not line.answered:
            yield row, ("none", "", "no"), AnswerTail((*blanks, unanswered[number]))
            continue
        names = "; ".join(candidate.accepted_name for candidate in resolution.candidates)
        sure = "yes" if resolution.confirmed else "no"
        tail = tails.of(line.verdicts, resolution.to_confirm)
        yield row, (resolution.match, names, sure), tail


class _Tails:
    """Writes out the verdicts of a plant once, and keeps them for its later lines."""

    def __init__(self) -> None:
        # The verdicts are kept too: an id may come again once its object is gone.
        self._kept: dict[tuple[int, str], tuple[Verdicts, AnswerTail]] = {}
        self._size = 0

    def of(self, verdicts: Verdicts, to_confirm: str) -> AnswerTail:
        key = (id(verdicts), to_confirm)
        if key in self._kept:
            return self._kept[key][1]
        *others, reasons = _verdict_columns(verdicts)
        told = " | ".join(part for part in (to_confirm, reasons) if part)
        tail = AnswerTail((*others, told))
        if self._size > _CHARACTERS_KEPT:
            self._kept.clear()
            self._size = 0
        self._kept[key] = (verdicts, tail)
        self._size += sum(map(len, tail.cells))
        return tail


def _verdict_columns(verdicts: Verdicts) -> list[str]:
    cited = dict.fromkeys(
        f"{citation.jurisdiction} {citation.citation}"
        f" ({citation.class_name}: {citation.name_as_listed})"
        for finding in verdicts.findings
        for citation in finding.citations
    )
    reasons = dict.fromkeys(
        f"{finding.jurisdiction} {finding.act}:"
        f" {'' if finding.verified else '(unverified) '}{finding.reasons[0]}"
        for finding in verdicts.findings
        if finding.outcome != "no-entry-found"
    )
    lanes = dict.fromkeys(
        f"{lane.origin} to {lane.destination}: {reason}"
        for lane in verdicts.lanes
        for reason in lane.reasons[:1]
    )
    rules = dict.fromkeys(
        own_rule_sentence(rule) for finding in verdicts.findings for rule in finding.own_rules
    )
    outcomes = [finding.outcome for finding in verdicts.findings]
    outcomes += [lane.outcome for lane in verdicts.lanes]
    return [*outcomes, " | ".join(rules), "; ".join(cited), " | ".join((*reasons, *lanes))]
