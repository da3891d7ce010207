"""A stock list against many places, JSON or CSV in, JSON or CSV out."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import StreamingResponse
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from service.api.limits import check_labels
from service.api.negotiation import accepted, body_of, sent_type
from service.api.parameters import ActText, AsOf, Day, JurisdictionText, LibraryNow
from service.checks.stock import StockChecker, StockLine, StockQuestion
from service.errors import BadRequest
from service.input.acts import read_acts
from service.input.day import today
from service.input.place import read_county, read_jurisdiction, read_jurisdictions
from service.input.stock_table import StockTable, read_stock, write_stock
from service.output.models.law import (
    StockAnswer,
    StockLineModel,
    finding_models,
    lane_models,
    resolution_model,
)
from service.settings import settings
from service.store.deadline import within_time
from service.store.library import Library

router = APIRouter(prefix="/v1/stock-checks", tags=["stock"])

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

    def worked_out() -> Response:
        if kind == _CSV:
            table = read_stock(body)
            question = _question(
                library, to or (), origin, act or (), county_text, on, pointer="to"
            )
        else:
            _check_unused(to or (), origin, act or ())
            asked = _parsed(body)
            table = read_stock(_as_csv(asked.labels))
            question = _question(
                library, asked.to, asked.origin, asked.act, asked.county, asked.on, pointer="/to"
            )
        return _answered(library, table, question, wanted)

    # In a thread of its own: a long list must not keep the others waiting.
    return await run_in_threadpool(worked_out)


def _answered(
    library: Library, table: StockTable, question: StockQuestion, wanted: str
) -> Response:
    lines = list(within_time(StockChecker(library, question).check(table.labels)))
    if wanted == _CSV:
        return StreamingResponse(
            _encoded(write_stock(table, lines, question)), media_type="text/csv; charset=utf-8"
        )
    problems = {problem.row: str(problem) for problem in table.problems}
    answer = StockAnswer(
        store_build=library.build_id,
        as_of=question.on,
        lines=tuple(
            _line(number, line, problems.get(number))
            for number, line in enumerate(lines, start=table.first_row)
        ),
        notes=table.notes,
    )
    return Response(answer.model_dump_json(by_alias=True), media_type=_JSON)


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


def _check_unused(to: Sequence[str], origin: str | None, act: Sequence[str]) -> None:
    """Refuse a query that is wrong even where a JSON body asks in its stead: whoever sent it
    meant something.
    """
    read_jurisdictions(to, "to")
    read_acts(act)
    if origin:
        read_jurisdiction(origin, "from")


def _parsed(body: bytes) -> StockRequest:
    try:
        asked = StockRequest.model_validate_json(body)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise BadRequest(
            first["msg"], pointer="/" + "/".join(str(step) for step in first["loc"])
        ) from error
    check_labels(asked.labels, settings())
    return asked


def _as_csv(labels: Sequence[str]) -> bytes:
    quoted = ['"' + label.replace("\0", " ").replace('"', '""') + '"' for label in labels]
    return "\r\n".join(["label", *quoted]).encode()


def _line(number: int, line: StockLine, problem: str | None) -> StockLineModel:
    return StockLineModel(
        row=number,
        name=resolution_model(line.resolution),
        findings=finding_models(line.verdicts.findings),
        lanes=lane_models(line.verdicts.lanes),
        problem=problem or (None if line.label else "no label in this row"),
    )


def _encoded(pieces: Iterator[str]) -> Iterator[bytes]:
    return (piece.encode() for piece in pieces)
