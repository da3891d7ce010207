"""A stock list against many places: JSON, CSV or a workbook in, JSON, CSV or a workbook out."""

from collections.abc import Sequence
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asked import AskedRoute, read_body, refuse_beside_body
from service.api.limits import (
    LARGE,
    LARGE_WORKBOOK,
    check_findings,
    check_labels,
    take_turn,
)
from service.api.negotiation import accepted, body_of, sent_type
from service.api.parameters import ActText, AsOf, Day, JurisdictionText, LibraryNow
from service.api.schemas import body_schema
from service.api.working import in_thread, streamed
from service.checks.stock import StockChecker, StockQuestion
from service.errors import BadRequest
from service.input.person import (
    read_acts,
    read_county,
    read_jurisdiction,
    read_jurisdictions,
    today,
)
from service.input.stock_table import StockTable, read_stock
from service.output.csv import stock_csv
from service.output.models.law import StockAnswer
from service.output.models.shape import schema_class
from service.output.stock_columns import about_lines, standings
from service.output.stock_json import write_stock_json
from service.settings import settings
from service.store.library import Library

router = APIRouter(route_class=AskedRoute, prefix="/v1/stock-checks", tags=["stock"])

_JSON, _CSV, _PLAIN = "application/json", "text/csv", "text/plain"
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_TABLES = (_CSV, _PLAIN, "text/tab-separated-values", _XLSX)
_TEXT_SCHEMA: dict[str, Any] = {"schema": {"type": "string"}}
_BINARY_SCHEMA: dict[str, Any] = {"schema": {"type": "string", "format": "binary"}}


class StockRequest(BaseModel):
    """A stock list as JSON."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [
                {
                    "labels": ["Eichhornia crassipes 4in", "Blue flag iris"],
                    "to": ["US-OH", "US-WI"],
                    "act": ["sell"],
                }
            ]
        },
    )

    labels: Annotated[list[str], Field(description="one label a line, blanks kept")]
    to: Annotated[
        list[JurisdictionText], Field(min_length=1, description="jurisdictions to answer for")
    ]
    origin: Annotated[
        JurisdictionText | None,
        Field(alias="from", description="state it ships from; adds a lane to each line"),
    ] = None
    act: list[ActText] = []
    county: Annotated[
        str | None, Field(description="county of the one jurisdiction asked about")
    ] = None
    on: Day | None = None


_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            _JSON: {"schema": body_schema(StockRequest)},
            _CSV: _TEXT_SCHEMA | {"example": "label,size\r\nWater hyacinth,4in\r\n"},
            _PLAIN: _TEXT_SCHEMA | {"example": "Water hyacinth\nBlue flag iris\n"},
            "text/tab-separated-values": _TEXT_SCHEMA,
            _XLSX: _BINARY_SCHEMA,
        },
    },
    "responses": {
        "200": {"content": {_JSON: {}, _CSV: _TEXT_SCHEMA, _XLSX: _BINARY_SCHEMA}},
    },
}


@router.post(
    "",
    operation_id="check_stock",
    summary="Every line of a stock list, answered in order",
    response_model=schema_class(StockAnswer),
    openapi_extra=_BODY,
)
async def check_stock(
    request: Request,
    library: LibraryNow,
    to: Annotated[
        list[JurisdictionText] | None, Query(description="jurisdictions, with a table as the body")
    ] = None,
    origin: Annotated[
        JurisdictionText | None,
        Query(alias="from", description="state it ships from, with a table as the body"),
    ] = None,
    act: Annotated[
        list[ActText] | None, Query(description="acts, with a table as the body")
    ] = None,
    county_text: Annotated[str | None, Query(alias="county", max_length=80)] = None,
    on: AsOf = None,
    column: Annotated[
        str | None,
        Query(max_length=200, description="heading of the column with the plants, in a table"),
    ] = None,
    sheet: Annotated[str | None, Query(max_length=100, description="sheet of a workbook")] = None,
) -> Response:
    """The rows come back in order, each with its plant and a finding for every place and act."""
    kind = sent_type(request, (_JSON, *_TABLES))
    wanted = accepted(request, (_JSON, _CSV, _XLSX))
    body = await body_of(request, settings().max_body_bytes)

    if kind == _XLSX and len(body) > LARGE_WORKBOOK:
        await take_turn(request)

    def read() -> tuple[StockTable, StockQuestion]:
        if kind in _TABLES:
            table = read_stock(body, column=column, sheet=sheet, plain=kind == _PLAIN)
            return table, _question(
                library, to or (), origin, act or (), county_text, on, pointer="to"
            )
        refuse_beside_body(request.query_params.keys())
        asked = read_body(body, StockRequest)
        table = read_stock(_as_csv(asked.labels))
        return table, _question(
            library, asked.to, asked.origin, asked.act, asked.county, asked.on, pointer="/to"
        )

    table, question = await in_thread(request, read)
    check_labels(table.labels, settings())
    check_findings(len(table.rows), len(question.jurisdictions), len(question.acts), settings())
    if len(table.rows) * len(question.jurisdictions) * len(question.acts) >= LARGE:
        await take_turn(request)
    lines = StockChecker(library, question).check(table.names)
    if wanted == _CSV:
        pieces = (piece.encode() for piece in stock_csv(table, lines, question))
        return await streamed(request, pieces, "text/csv; charset=utf-8")
    if wanted == _XLSX:
        from service.output.excel import stock_workbook  # openpyxl is slow to import

        about = about_lines(library, question)
        return await streamed(request, stock_workbook(table, lines, question, about), _XLSX)
    phrases = standings(library, question)
    return await streamed(
        request, write_stock_json(table, lines, question, library.build_id, phrases), _JSON
    )


def _question(
    library: Library,
    to: Sequence[str],
    origin: str | None,
    act: Sequence[str],
    county_text: str | None,
    on: date | None,
    *,
    pointer: str,
) -> StockQuestion:
    places = read_jurisdictions(to, pointer)
    if not places:
        raise BadRequest(
            "No jurisdiction is asked about.",
            pointer=pointer,
            next_step="Give one or more, such as US-OH.",
        )
    if county_text and len(places) > 1:
        raise BadRequest(
            "A county goes with one jurisdiction.",
            pointer="county",
            next_step="Ask for each jurisdiction apart.",
        )
    return StockQuestion(
        jurisdictions=places,
        acts=read_acts(act),
        on=on or today(),
        origin=read_jurisdiction(origin, "from") if origin else None,
        county=read_county(library.counties, places[0], county_text),
    )


def _as_csv(labels: Sequence[str]) -> bytes:
    quoted = ['"' + label.replace("\0", " ").replace('"', '""') + '"' for label in labels]
    return "\r\n".join(["label", *quoted]).encode()
