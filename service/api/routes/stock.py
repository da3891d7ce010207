"""A stock list against many places, JSON or CSV in, JSON or CSV out."""

from collections.abc import Collection, Sequence
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asked import AskedRoute, read_body
from service.api.limits import check_findings, check_labels
from service.api.negotiation import accepted, body_of, sent_type
from service.api.parameters import ActText, AsOf, Day, JurisdictionText, LibraryNow
from service.api.working import in_thread, streamed
from service.checks.stock import StockChecker, StockQuestion
from service.errors import BadRequest, Mistakes
from service.input.acts import read_acts
from service.input.day import today
from service.input.place import read_county, read_jurisdiction, read_jurisdictions
from service.input.stock_table import StockTable, read_stock, write_stock
from service.output.models.law import StockAnswer
from service.output.stock_json import write_stock_json
from service.settings import settings
from service.store.library import Library

router = APIRouter(route_class=AskedRoute, prefix="/v1/stock-checks", tags=["stock"])

_JSON, _CSV = "application/json", "text/csv"


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
            _JSON: {
                "schema": StockRequest.model_json_schema(
                    ref_template="#/components/schemas/{model}"
                )
            },
            _CSV: {"schema": {"type": "string"}, "example": "label,size\r\nWater hyacinth,4in\r\n"},
        },
    },
    "responses": {"200": {"content": {_JSON: {}, _CSV: {"schema": {"type": "string"}}}}},
}


@router.post(
    "",
    operation_id="check_stock",
    summary="Every line of a stock list, answered in order",
    response_model=StockAnswer,
    openapi_extra=_BODY,
)
async def check_stock(
    request: Request,
    library: LibraryNow,
    to: Annotated[
        list[JurisdictionText] | None, Query(description="jurisdictions, with a CSV body")
    ] = None,
    origin: Annotated[
        JurisdictionText | None,
        Query(alias="from", description="state it ships from, with a CSV body"),
    ] = None,
    act: Annotated[list[ActText] | None, Query(description="acts, with a CSV body")] = None,
    county_text: Annotated[str | None, Query(alias="county", max_length=80)] = None,
    on: AsOf = None,
) -> Response:
    kind = sent_type(request, (_JSON, _CSV))
    wanted = accepted(request, (_JSON, _CSV))
    body = await body_of(request, settings().max_body_bytes)

    def read() -> tuple[StockTable, StockQuestion]:
        if kind == _CSV:
            table = read_stock(body)
            return table, _question(
                library, to or (), origin, act or (), county_text, on, pointer="to"
            )
        _refuse_query(request.query_params.keys())
        asked = read_body(body, StockRequest)
        table = read_stock(_as_csv(asked.labels))
        return table, _question(
            library, asked.to, asked.origin, asked.act, asked.county, asked.on, pointer="/to"
        )

    table, question = await in_thread(request, read)
    check_labels(table.labels, settings())
    check_findings(len(table.rows), len(question.jurisdictions), len(question.acts), settings())
    lines = StockChecker(library, question).check(table.labels)
    if wanted == _CSV:
        pieces = (piece.encode() for piece in write_stock(table, lines, question))
        return await streamed(request, pieces, "text/csv; charset=utf-8")
    return await streamed(
        request, write_stock_json(table, lines, question, library.build_id), _JSON
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


def _refuse_query(names: Collection[str]) -> None:
    """Refuse parameters beside a JSON body: either the one or the other would be passed over."""
    if names:
        raise Mistakes(
            [
                BadRequest(
                    f"The parameter {name!r} goes with a CSV body; a JSON body has its own key.",
                    pointer=name,
                    next_step="Write it in the body.",
                )
                for name in names
            ]
        )


def _as_csv(labels: Sequence[str]) -> bytes:
    quoted = ['"' + label.replace("\0", " ").replace('"', '""') + '"' for label in labels]
    return "\r\n".join(["label", *quoted]).encode()
