"""The columns that an answered stock list has beside its own, as plain text."""

from collections.abc import Iterable, Iterator

from service.checks.stock import StockLine, StockQuestion, Verdicts
from service.input.stock_table import StockTable, rows_without_name
from service.output.words import own_rule_sentence


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


def answer_rows(
    table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Iterator[tuple[list[str], list[str]]]:
    """Each row of the list and the answer beside it, in order. A row that gives no name has no
    outcome, and its reason says why.
    """
    unanswered = dict(rows_without_name(table))
    blanks = [""] * (len(answer_header(question)) - 6)
    shared: dict[int, list[str]] = {}
    numbered = enumerate(zip(table.rows, lines, strict=True), start=table.first_row)
    for number, (row, line) in numbered:
        if line.answered:
            yield row, _answer(line, shared)
        else:
            yield row, ["none", "", "no", *blanks, "", "", unanswered[number]]


def _answer(line: StockLine, shared: dict[int, list[str]]) -> list[str]:
    resolution = line.resolution
    # Lines that mean the same plant share one Verdicts value, so its columns are written out once.
    tail = shared.get(id(line.verdicts))
    if tail is None:
        tail = shared[id(line.verdicts)] = _verdict_columns(line.verdicts)
    *outcomes, own_rules, citations, reasons = tail
    return [
        resolution.match,
        "; ".join(candidate.accepted_name for candidate in resolution.candidates),
        "yes" if resolution.confirmed else "no",
        *outcomes,
        own_rules,
        citations,
        " | ".join(part for part in (resolution.to_confirm, reasons) if part),
    ]


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
