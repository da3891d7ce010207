"""A stock list for a web shop, item by state, and what to tell people of a plant that is held back.

The table's first line says what its words mean; ``nothing-found`` is not a permission.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from service.checks.shipping_table import ShippingCell, held_places, shipping_row
from service.checks.stock import StockLine, StockQuestion, Verdicts
from service.input.stock_table import StockTable, rows_without_name
from service.output.csv import csv_pieces, escaped
from service.output.words import place_name
from service.regulation.finding import Citation
from service.regulation.shipping import Lane
from service.values.vocabulary import Outcome
from service.values.words import joined

_MOST_CITATIONS = 3
_OUTCOME_PHRASES: dict[Outcome, str] = {
    "prohibited": "prohibited",
    "permit-required": "only with a permit",
    "conditional": "depends on county, date or form",
    "undetermined": "not determined",
    "listed-other-acts": "listed for other acts",
    "no-entry-found": "no entry found",
}


def shipping_table(
    table: StockTable,
    lines: Iterable[StockLine],
    question: StockQuestion,
    *,
    build_id: str,
    standing: Sequence[str],
) -> Iterator[str]:
    """Item by state as CSV: ``nothing-found``, ``ask`` or ``hold``, and one column of reasons.

    A head line comes before the heading. Blank rows are left out; a row that gives no name is
    ``ask`` everywhere.

    Args:
        standing: one phrase a state, how far its law can be relied on here.
    """
    code = table.code_column
    unanswered = dict(rows_without_name(table))
    # The verdicts are kept too: an id may come again once its object is gone.
    rows_of: dict[tuple[int, bool], tuple[Verdicts, list[str], str]] = {}

    def rows() -> Iterator[list[str]]:
        yield [head_line(question.on, build_id, standing)]
        yield [
            "row",
            *([table.header[code]] if code is not None else []),
            "item",
            "plant",
            *question.jurisdictions,
            "reason",
        ]
        for number, (row, line) in enumerate(
            zip(table.rows, lines, strict=True), start=table.first_row
        ):
            if not any(cell.strip() for cell in row):
                continue
            own = [row[code] if code < len(row) else ""] if code is not None else []
            if not line.answered:
                asks = ["ask"] * len(question.jurisdictions)
                yield [str(number), *own, "", "", *asks, unanswered[number]]
                continue
            key = (id(line.verdicts), line.resolution.confirmed)
            if key not in rows_of:
                cells = shipping_row(line, question)
                decided = [str(cell.decision) for cell in cells]
                rows_of[key] = line.verdicts, decided, _reasons(cells)
            _, decisions, reasons = rows_of[key]
            why = " | ".join(part for part in (line.resolution.to_confirm, reasons) if part)
            yield [str(number), *own, line.label, _plants(line), *decisions, why]

    return csv_pieces(map(escaped, rows()), marked=True)


def head_line(on: date, build_id: str, standing: Sequence[str]) -> str:
    """The line above the heading of the table."""
    return (
        "nothing-found is not a permission: it says that no entry was found in the lists loaded as"
        f" of {on.isoformat()} (store build {build_id}). hold: a list bars it or asks for a permit."
        " ask: it depends, it is listed for other acts, the name is open, or nothing can be said;"
        " ask the state's authority. This is not legal advice."
        f" Lists loaded: {'; '.join(standing)}."
    )


def card_texts(
    table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Iterator[str]:
    """For each line that is held back somewhere, a sentence for its shelf card or the customer, as
    CSV with the citations.
    """
    code = table.code_column

    def rows() -> Iterator[list[str]]:
        named = [table.header[code]] if code is not None else []
        yield ["row", *named, "item", "text", "citations", "confirm_with"]
        for number, (row, line) in enumerate(
            zip(table.rows, lines, strict=True), start=table.first_row
        ):
            text = card_text(line, question)
            if text:
                own = [row[code] if code < len(row) else ""] if code is not None else []
                yield [str(number), *own, line.label, text, *_sources(line, question)]

    return csv_pieces(map(escaped, rows()), marked=True)


def card_text(line: StockLine, question: StockQuestion) -> str:
    """One sentence on a line that is held back somewhere, with the citations; empty for others."""
    held_back = held_places(line, question) if line.answered else ()
    if not held_back:
        return ""
    places: dict[str, list[str]] = {}
    for cell in held_back:
        places.setdefault(_card_ground(cell), []).append(place_name(cell.jurisdiction))
    where = "; ".join(f"{joined(names)} ({ground})" for ground, names in places.items())
    return f"We hold {_card_name(line)} back from {where}; as of {question.on.isoformat()}."


def _card_name(line: StockLine) -> str:
    names = joined((plant.accepted_name for plant in line.resolution.candidates), "or")
    label = " ".join(line.label.split())
    if not line.resolution.confirmed:
        return f"“{label}”, which may be {names},"
    return names if names.casefold() in label.casefold() else f"“{label}” ({names})"


def _card_ground(cell: ShippingCell) -> str:
    if cell.own_rules:
        return f"our own rule: {joined(cell.own_rules)}"
    cited = joined(_cited(_deciding_citations(cell)))
    words = _OUTCOME_PHRASES[cell.outcome] + (f", {cited}" if cited else "")
    return words if _verified(cell) else f"{words}, not yet seen in the text"


def _sources(line: StockLine, question: StockQuestion) -> tuple[str, str]:
    held_back = held_places(line, question)
    citations = dict.fromkeys(
        f"{citation.jurisdiction} {citation.title}, {citation.citation}: {citation.url}"
        for cell in held_back
        for citation in _deciding_citations(cell)
    )
    whom = dict.fromkeys(
        finding.confirm_with
        for finding in line.verdicts.findings
        for cell in held_back
        if finding.jurisdiction == cell.jurisdiction
    )
    return "; ".join(citations), "; ".join(whom)


def _reasons(cells: Sequence[ShippingCell]) -> str:
    """Why, places with one reason put together."""
    places: dict[str, list[str]] = {}
    for cell in cells:
        if cell.decision != "nothing-found":
            places.setdefault(f"{cell.decision}: {_reason(cell)}", []).append(cell.jurisdiction)
    return " | ".join(f"{', '.join(where)} {reason}" for reason, where in places.items())


def _reason(cell: ShippingCell) -> str:
    if cell.own_rules:
        return f"own rule, no law: {joined(cell.own_rules)}"
    if cell.outcome == "no-entry-found":
        return "the name is not confirmed"
    words = _OUTCOME_PHRASES[cell.outcome]
    cited = "; ".join(_cited(_deciding_citations(cell)))
    if not cited:
        return f"{words}, {cell.grounds[0].reasons[0]}"
    return f"{words}, {cited}{'' if _verified(cell) else ' (unverified)'}"


def _deciding_citations(cell: ShippingCell) -> list[Citation]:
    """The citations that the outcome rests on, each once."""
    findings = [
        step
        for ground in cell.grounds
        for step in (ground.steps if isinstance(ground, Lane) else (ground,))
        if step.outcome == cell.outcome
    ]
    cited = [citation for finding in findings for citation in finding.citations]
    deciding = [citation for citation in cited if citation.outcome == cell.outcome] or cited
    return list({(cited.list_id, cited.class_name): cited for cited in deciding}.values())


def _cited(citations: Sequence[Citation]) -> list[str]:
    shown = [f"{cited.citation} ({cited.class_name})" for cited in citations[:_MOST_CITATIONS]]
    more = len(citations) - _MOST_CITATIONS
    return [*shown, f"{more} more"] if more > 0 else shown


def _verified(cell: ShippingCell) -> bool:
    return any(ground.verified for ground in cell.grounds)


def _plants(line: StockLine) -> str:
    return "; ".join(plant.accepted_name for plant in line.resolution.candidates)
