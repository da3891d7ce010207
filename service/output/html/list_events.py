"""An answered list as its room reads it: one object a line, rows short, reasons on demand."""

import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from markupsafe import Markup

from service.checks.shipping_table import Decision, shipping_row
from service.checks.stock import StockLine, StockQuestion
from service.errors import ReedgateError
from service.input.stock_table import StockTable, rows_without_name
from service.output.html.page_views import agreeing
from service.output.html.templating import templates
from service.output.words import place_name
from service.regulation.coverage import standing_of
from service.store.library import Library
from service.values.vocabulary import Jurisdiction, Outcome, strictest

_BATCH = 50
"""Rows in one object: few enough that the first come at once."""
_URGENCY: tuple[Decision, ...] = ("hold", "ask", "nothing-found")
_MOST_CHOICES = 6


def list_events(
    library: Library, table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Iterator[str]:
    """The head, the rows in batches; a line without a name is left out and told in the notes.

    An error that comes when rows have gone out is the last object.
    """
    house = any(not version.is_law for version in library.law.versions)
    yield _event(
        kind="head",
        total=sum(bool(label) for label in table.labels),
        columns=[{"code": place, "name": place_name(place)} for place in question.jurisdictions],
        lanes=[f"Shipped to {place_name(place)}" for place in question.jurisdictions]
        if question.origin
        else [],
        house=house,
        notes=[
            *table.notes,
            *map(str, table.problems),
            *(text for _, text in rows_without_name(table)),
        ],
        standing=[
            standing_of(library.law, place, question.on).phrase for place in question.jurisdictions
        ],
        store_build=library.build_id,
        as_of=question.on.isoformat(),
    )
    batch: list[dict[str, Any]] = []
    try:
        for number, line in enumerate(lines, start=table.first_row):
            if not line.answered:
                continue
            batch.append(_row(number, line, question))
            if len(batch) == _BATCH:
                yield _event(kind="rows", rows=batch)
                batch = []
        if batch:
            yield _event(kind="rows", rows=batch)
    except ReedgateError as error:
        yield _event(kind="error", detail=str(error))


def line_reasons(line: StockLine, places: Sequence[Jurisdiction]) -> str:
    """Why a line is answered as it is, and whom to ask, as HTML to put under it."""
    template = templates().get_template("page/line_reasons.html.j2")
    cells = [
        (
            place,
            agreeing(found for found in line.verdicts.findings if found.jurisdiction == place),
            [lane for lane in line.verdicts.lanes if lane.destination == place],
        )
        for place in places
    ]
    return Markup(template.render(line=line, cells=cells))


def _row(number: int, line: StockLine, question: StockQuestion) -> dict[str, Any]:
    decisions = shipping_row(line, question)
    candidates = [one.accepted_name for one in line.resolution.candidates]
    rules = [rule for found in line.verdicts.findings for rule in found.own_rules]
    row: dict[str, Any] = {
        "n": number,
        "label": line.label
        if not line.common or line.common == line.label
        else f"{line.label} / {line.common}",
        "meant": " or ".join(candidates[:3])
        + (f" or {len(candidates) - 3} more" if len(candidates) > 3 else ""),
        "sure": line.resolution.confirmed,
        "choices": [] if line.resolution.confirmed else candidates[:_MOST_CHOICES],
        "group": min((one.decision for one in decisions), key=_URGENCY.index),
        "cells": [_cell(line, place) for place in question.jurisdictions],
        "lanes": [(lane.outcome, lane.verified) for lane in line.verdicts.lanes],
    }
    if rules:
        row["house"] = "; ".join(dict.fromkeys(f"{rule.title}: {rule.reason}" for rule in rules))
    return row


def _cell(line: StockLine, place: Jurisdiction) -> tuple[Outcome, bool]:
    """The strictest outcome over the acts, and whether it was seen in the text."""
    found = [one for one in line.verdicts.findings if one.jurisdiction == place]
    outcome = strictest([one.outcome for one in found])
    return outcome, any(one.verified for one in found if one.outcome == outcome)


def _event(**facts: object) -> str:
    return json.dumps(facts, ensure_ascii=False) + "\n"
