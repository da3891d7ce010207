"""The page: one plant, a list, a plan, and how much law is held; forms that work without script,
and what the script asks for.
"""

import contextvars
import queue
import threading
from collections.abc import Awaitable, Callable, Iterator
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, StreamingResponse
from starlette.datastructures import UploadFile

from service.api.limits import check_labels
from service.api.parameters import library
from service.api.problems import STATUS
from service.checks.label import check_label
from service.checks.plan.check import Progress, check_plan
from service.checks.plan.request import Plan
from service.checks.plan.values import PlanAnswer
from service.checks.stock import StockChecker, StockQuestion
from service.errors import BadRequest, NotFound, ReedgateError, UnknownValue
from service.geography import County
from service.input.acts import read_acts
from service.input.day import today
from service.input.page_form import PageForm, acts_of, form_of, plan_of, stock_of
from service.input.place import read_jurisdiction, read_jurisdictions, read_state
from service.output.csv import stock_csv
from service.output.html import page
from service.output.html.report import report_policy
from service.output.models.plan import plan_model
from service.output.plan import CSV, GEOJSON, HTML, JSON, write_plan
from service.regulation.finding import Question
from service.settings import settings
from service.store.deadline import check as check_deadline
from service.store.deadline import within_time
from service.store.library import Library

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

_EVENTS = "application/x-ndjson"
_AT_ONCE = {"Content-Encoding": "identity"}
"""Keeps the compression from holding back what is ready to be read."""
_FILES = {
    "csv": (CSV, "plan.csv"),
    "geojson": (GEOJSON, "plan.geojson"),
    "json": (JSON, "plan.json"),
}


def _told(
    work: Callable[[Request], Awaitable[Response]],
) -> Callable[[Request], Awaitable[Response]]:
    """The route, with its errors told on a page; to the script, as an event."""

    async def route(request: Request) -> Response:
        try:
            return await work(request)
        except ReedgateError as error:
            status = next(
                (int(code) for kind, code in STATUS.items() if isinstance(error, kind)), 500
            )
            if getattr(request.state, "streaming", False):
                return Response(page.error_event(error), status, media_type=_EVENTS)
            return HTMLResponse(page.error_page(error), status)

    return route


@router.get("/")
@_told
async def index(request: Request) -> Response:
    """The page; with ``label`` and ``in``, one plant looked up; with ``state`` and ``county``,
    that place chosen.
    """
    held = await library(request)
    asked = request.query_params
    form = PageForm(plants=page.EXAMPLE if asked.get("example") == "list" else "")
    return await run_in_threadpool(
        _index, request, held, form, asked.get("state", ""), asked.get("county", "")
    )


@router.post("/")
@_told
async def index_again(request: Request) -> Response:
    """The page with what was filled in, and the counties of the state chosen."""
    held, form = await library(request), await _form(request)
    return await run_in_threadpool(_index, request, held, form, form.state, form.county)


@router.get("/coverage")
@_told
async def coverage(request: Request) -> Response:
    """How much law is held, state by state."""
    held = await library(request)
    return HTMLResponse(await run_in_threadpool(page.coverage_page, held, today()))


@router.get("/where")
async def where(request: Request) -> Response:
    """The counties of a state and the map to pick from, for the script."""
    held = await library(request)
    asked = request.query_params
    found = await run_in_threadpool(_where, held, asked.get("state", ""), asked.get("county", ""))
    return Response(found.as_json(), media_type=JSON)


@router.get("/static/{name}")
async def static(name: str) -> Response:
    """A style sheet, script or picture of the page."""
    if name not in page.STATIC:
        raise NotFound(f"There is no file {name!r}.")
    return Response(
        page.static_file(name),
        media_type=page.STATIC[name],
        headers={"Cache-Control": "public, max-age=86400"},
    )


@router.post("/check")
@_told
async def check(request: Request) -> Response:
    """A list against the law: as a page that fills while it is worked out, as events for the
    script, or as CSV.
    """
    held, form = await library(request), await _form(request)
    table = stock_of(form)
    check_labels(list(table.labels), settings(), "plants")
    question = _question(held, form)
    lines = within_time(StockChecker(held, question).check(table.names))
    match request.state.wanted:
        case "csv":
            text = "".join(stock_csv(table, list(lines), question, marked=True))
            return Response(
                text, media_type="text/csv; charset=utf-8", headers=_download("list.csv")
            )
        case "stream":
            return StreamingResponse(
                _until_error(page.stock_events(held, table, lines, question)),
                media_type=_EVENTS,
                headers=_AT_ONCE,
            )
        case _:
            pieces = page.stock_page(held, form, table, lines, question)
            return StreamingResponse(
                pieces, media_type="text/html; charset=utf-8", headers=_AT_ONCE
            )


@router.post("/plan")
@_told
async def plan(request: Request) -> Response:
    """A plan: as the report, as events for the script, or as a file."""
    held, form = await library(request), await _form(request)
    asked = plan_of(form)
    check_labels([each.label for each in asked.plantings], settings(), "plants")
    wanted = request.state.wanted
    if wanted == "stream":
        return StreamingResponse(_plan_events(held, asked), media_type=_EVENTS, headers=_AT_ONCE)
    answer = await run_in_threadpool(_checked, held, asked, lambda *_: check_deadline())
    if wanted in _FILES:
        kind, name = _FILES[wanted]
        text = (
            plan_model(answer, explain=False).model_dump_json(by_alias=True)
            if kind == JSON
            else write_plan(held, answer, kind)
        )
        return Response(text, media_type=kind, headers=_download(name))
    report = await run_in_threadpool(write_plan, held, answer, HTML)
    return HTMLResponse(
        report, headers={"Content-Security-Policy": f"{report_policy()}; frame-ancestors 'none'"}
    )


async def _form(request: Request) -> PageForm:
    """The fields that were sent; notes in the request's state what is wanted."""
    limit = settings().max_body_bytes
    fields: dict[str, list[str]] = {}
    uploaded = b""
    async with request.form(max_files=1, max_fields=200, max_part_size=limit) as sent:
        for name, value in sent.multi_items():
            if isinstance(value, UploadFile):
                uploaded = await value.read()
            else:
                fields.setdefault(name, []).append(value)
    request.state.wanted = next(iter(fields.get("as", ())), "page")
    request.state.streaming = request.state.wanted == "stream"
    return form_of(fields, uploaded)


def _index(request: Request, held: Library, form: PageForm, state: str, county: str) -> Response:
    query = request.query_params
    asked: dict[str, Any] = {
        "label": query.get("label", ""),
        "state": query.get("in", ""),
        "county": query.get("in_county", ""),
        "acts": tuple(query.getlist("act")) or ("sell", "buy", "possess", "plant"),
    }
    found = _looked_up(held, asked) if asked["label"].strip() and asked["state"] else None
    return HTMLResponse(
        page.index_page(
            held, form, _where(held, state, county), today(), look_up=found, asked=asked
        )
    )


def _looked_up(held: Library, asked: dict[str, Any]) -> page.LookUp:
    state = read_jurisdiction(asked["state"], "in")
    county = held.counties.find(state, asked["county"]) if asked["county"].strip() else None
    label = asked["label"].strip()[:2_000]
    fips = county.fips if county else None
    questions = [Question(state, act, today(), fips) for act in read_acts(asked["acts"])]
    answer = check_label(held, label, questions)
    return page.LookUp(label, state, county, answer.resolution, answer.findings)


def _where(held: Library, state_text: str, county_text: str) -> page.Where:
    if not state_text:
        return page.where_of(held, None, None)
    state = read_state(state_text)
    county: County | None = None
    if county_text:
        try:
            county = held.counties.find(state, county_text)
        except UnknownValue:
            # Another state was chosen after the county: its own counties are shown.
            county = None
    return page.where_of(held, state, county)


def _question(held: Library, form: PageForm) -> StockQuestion:
    places = read_jurisdictions(form.states, "state")
    if not places:
        raise BadRequest(
            "No state is given.",
            pointer="state",
            next_step="Choose the state that the list is held against.",
        )
    county = (
        held.counties.find(places[0], form.county).fips
        if form.county and len(places) == 1
        else None
    )
    return StockQuestion(places, acts_of(form) or ("sell",), today(), county=county)


def _checked(held: Library, asked: Plan, progress: Progress) -> PlanAnswer:
    return check_plan(
        held, asked, on=today(), border_tolerance_m=settings().border_tolerance_m, progress=progress
    )


def _plan_events(held: Library, asked: Plan) -> Iterator[str]:
    """Progress while the plan is worked out in a thread of its own, then the answer in short."""
    told: queue.SimpleQueue[str | None] = queue.SimpleQueue()

    def progress(done: int, total: int) -> None:
        check_deadline()
        told.put(page.progress_event(done, total))

    def work() -> None:
        try:
            told.put(page.plan_event(_checked(held, asked, progress)))
        except ReedgateError as error:
            told.put(page.error_event(error))
        finally:
            told.put(None)

    # The context carries the request's time limit and day.
    threading.Thread(target=contextvars.copy_context().run, args=(work,), daemon=True).start()
    yield from iter(told.get, None)


def _until_error(events: Iterator[str]) -> Iterator[str]:
    """The events; an error that comes when the answer has begun is the last of them."""
    try:
        yield from events
    except ReedgateError as error:
        yield page.error_event(error)


def _download(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}"'}
