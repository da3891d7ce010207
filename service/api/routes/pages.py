"""The rooms of the page, and what their scripts ask for beside the interface for programs."""

import json
from collections.abc import Awaitable, Callable, Mapping, Sequence
from importlib.resources import files
from math import prod
from typing import Annotated

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, StreamingResponse
from pydantic import BaseModel, ConfigDict, Field
from starlette.datastructures import UploadFile

from service.api.asked import read_body
from service.api.limits import LARGE, LARGE_WORKBOOK, check_findings, check_labels, take_turn
from service.api.parameters import library as current_library
from service.api.problems import STATUS
from service.api.security import content_policy, style_source
from service.api.working import streamed
from service.checks.label import check_label
from service.checks.stock import StockChecker, StockQuestion
from service.errors import BadRequest, NotFound, ReedgateError, UnknownValue
from service.geography.geodesy import Box
from service.input.list_form import ListForm, list_form, stock_of
from service.input.person import read_acts, read_jurisdictions, read_state, today
from service.input.plan_table import read_plan_document
from service.input.site_file import read_geopackage
from service.input.stock_table import StockTable
from service.output.csv import stock_csv
from service.output.excel import stock_workbook
from service.output.html import page
from service.output.html.list_events import line_reasons, list_events
from service.output.html.page_views import agreeing, plant_facts, stock_rows
from service.output.html.report import report_style
from service.output.maps.ground import ground
from service.output.stock_columns import about_lines
from service.regulation.coverage import standing_of
from service.regulation.finding import Question
from service.settings import settings
from service.store.deadline import within_time
from service.store.library import Library

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

_EVENTS = "application/x-ndjson"
_WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_AT_ONCE = {"Content-Encoding": "identity"}
"""Keeps the compression from holding back what is ready to be read."""
_KEPT_FOR_GOOD = {"Cache-Control": "public, max-age=31536000, immutable"}
_MOST_REASONS = 200
"""Lines whose reasons are asked for at once."""
_LOOK_UP_ACTS = ("sell", "buy", "possess", "plant")

Work = Callable[[Request], Awaitable[Response]]


def _with_error_page(work: Work) -> Work:
    """The route, with an error shown on a page."""

    async def route(request: Request) -> Response:
        try:
            return await work(request)
        except ReedgateError as error:
            return HTMLResponse(_pages(None).error(error), _status(error))

    return route


def _status(error: ReedgateError) -> int:
    return next((int(code) for kind, code in STATUS.items() if isinstance(error, kind)), 500)


def _pages(library: Library | None) -> page.Pages:
    config = settings()
    return page.Pages(library, today(), page.Tiles(config.tiles, config.tiles_credit))


def _room(html: str) -> HTMLResponse:
    """A room. Reports that its script opens in a tab of their own are under its policy too, which
    lets their style in.
    """
    styles = (style_source(report_style()),)
    policy = content_policy("text/html", styles, images=page.tile_host(settings().tiles))
    return HTMLResponse(html, headers={"Content-Security-Policy": policy})


def closed_page(headers: Mapping[str, str]) -> Response:
    """The frame of the page for a tab without a token: it asks for one and goes on."""
    answer = _room(_pages(None).closed())
    answer.status_code = 401
    answer.headers.update(headers)
    return answer


# --- rooms ---


@router.get("/")
@_with_error_page
async def start(request: Request) -> Response:
    """The doors; an old address of a look-up goes on to its room."""
    if "label" in request.query_params:
        return RedirectResponse(f"/plant?{request.url.query}", 308)
    library = await current_library(request)
    return _room(await run_in_threadpool(_pages(library).start))


@router.get("/plant")
@_with_error_page
async def plant(request: Request) -> Response:
    """One plant; with ``label`` and ``in``, answered."""
    library = await current_library(request)
    asked = _asked(request)
    answer = (
        await run_in_threadpool(_look_up, library, asked) if asked.label and asked.places else None
    )
    return _room(_pages(library).plant(asked, answer))


@router.get("/list")
@_with_error_page
async def list_room(request: Request) -> Response:
    """A list, to be filled in."""
    asked = request.query_params
    form = ListForm(
        plants=page.EXAMPLE if asked.get("example") == "list" else "",
        to=tuple(code for code in asked.get("to", "").split(",") if code),
    )
    return _room(_pages(await current_library(request)).list(form))


@router.get("/place")
@_with_error_page
async def place(request: Request) -> Response:
    """A place, drawn by the script."""
    return _room(_pages(await current_library(request)).place())


@router.get("/sites")
@_with_error_page
async def sites(request: Request) -> Response:
    """Many sites."""
    return _room(_pages(await current_library(request)).sites())


@router.get("/law")
@_with_error_page
async def law(request: Request) -> Response:
    """How much law is loaded, state by state."""
    return _room(await run_in_threadpool(_pages(await current_library(request)).law))


@router.get("/coverage")
async def coverage() -> Response:
    """The old address of the law loaded."""
    return RedirectResponse("/law", 308)


@router.get("/law/{list_id}")
@_with_error_page
async def law_list(request: Request) -> Response:
    """One list, class by class, as it is in force today."""
    library = await current_library(request)
    list_id = request.path_params["list_id"]
    versions = [one for one in library.law.versions if one.list_id == list_id]
    if not versions:
        raise NotFound(f"No list has the id {list_id!r}.", next_step="Look for it under /law.")
    in_force = [one for one in versions if one.in_force(today())]
    return _room(_pages(library).law_list((in_force or versions)[-1]))


@router.get("/static/{version}/{path:path}")
async def static(version: str, path: str) -> Response:
    """A style sheet, script or picture of the page. The address changes with the content."""
    content, media_type = page.static_file(path)
    headers = _KEPT_FOR_GOOD if version == page.static_version() else {"Cache-Control": "no-cache"}
    return Response(content, media_type=media_type, headers=headers)


# --- what the list room asks for ---


@router.post("/list")
@_with_error_page
async def list_answered(request: Request) -> Response:
    """The answered list as a page, for a browser without script."""
    library = await current_library(request)
    table, question = await _stock_asked(request)
    lines = within_time(StockChecker(library, question).check(table.names))
    context = {
        "question": question,
        "notes": (*table.notes, *map(str, table.problems)),
        "rows": stock_rows(table, lines, question),
    }
    pieces = _pages(library).stock(context)
    return StreamingResponse(pieces, media_type="text/html; charset=utf-8", headers=_AT_ONCE)


@router.post("/list/rows")
async def rows(request: Request) -> Response:
    """The answered list, one object a line."""
    library = await current_library(request)
    table, question = await _stock_asked(request)
    lines = within_time(StockChecker(library, question).check(table.names))
    answer = list_events(library, table, lines, question)
    return StreamingResponse(answer, media_type=_EVENTS, headers=_AT_ONCE)


@router.post("/list/file")
async def file(request: Request) -> Response:
    """The answered list as CSV or Excel, with the names chosen."""
    library = await current_library(request)
    fields, uploaded = await _sent(request)
    table, question = await _stock_of(request, list_form(fields, uploaded))
    wanted = next(iter(fields.get("as", ())), "csv")
    if wanted not in ("csv", "xlsx"):
        raise UnknownValue("Form of the list", wanted, ("csv", "xlsx"), pointer="as")
    lines = within_time(StockChecker(library, question).check(table.names))
    if wanted == "xlsx":
        about = about_lines(library, question)
        book = stock_workbook(table, lines, question, about)
        return await streamed(request, book, _WORKBOOK, _download("answered.xlsx"))
    pieces = stock_csv(table, lines, question, marked=True)
    headers = _AT_ONCE | _download("answered.csv")
    return StreamingResponse(pieces, media_type="text/csv; charset=utf-8", headers=headers)


class _Why(BaseModel):
    """Lines whose reasons are asked for, and where they go."""

    model_config = ConfigDict(extra="forbid")

    labels: list[str]
    to: tuple[str, ...]
    acts: tuple[str, ...] = ()
    origin: Annotated[str, Field(alias="from")] = ""


@router.post("/list/why")
async def why(request: Request) -> Response:
    """Reasons of some lines, as parts of a page."""
    library = await current_library(request)
    asked = read_body(await request.body(), _Why)
    labels = asked.labels
    form = ListForm(to=asked.to, acts=asked.acts, origin=asked.origin)
    check_labels(labels, settings(), "/labels")
    if len(labels) > _MOST_REASONS:
        raise BadRequest(f"Ask for at most {_MOST_REASONS} lines at once.", pointer="/labels")
    question = StockQuestion(form.places, form.chosen_acts, today(), form.from_state)
    parts = await run_in_threadpool(_reasons, library, labels, question)
    return Response(json.dumps({"parts": parts}), media_type="application/json")


@router.get("/offer")
async def offer(request: Request) -> Response:
    """Names that begin with, or hold, what was typed; at most eight."""
    library = await current_library(request)
    typed = request.query_params.get("q", "")[:200]
    found = await run_in_threadpool(_offered, library, typed)
    return Response(json.dumps({"names": found}), media_type="application/json")


# --- what the rooms of places ask for ---


@router.get("/map/shapes")
async def shapes(request: Request) -> Response:
    """State and county lines and waters of a box, as GeoJSON."""
    library = await current_library(request)
    box = _box(request.query_params.get("box", ""))
    found = await run_in_threadpool(ground, library.build.connection, box)
    return Response(json.dumps(found), media_type="application/geo+json")


@router.get("/place/example")
async def example_place() -> Response:
    """The plan of the demonstration: invented places over the invented county."""
    return Response(_demo("heron_bend_plan.json"), media_type="application/json")


@router.get("/sites/example")
async def example_sites() -> Response:
    """The sites of the demonstration, invented."""
    return Response(_demo("ferrow_community.geojson"), media_type="application/geo+json")


@router.post("/place/read")
async def read_place(request: Request) -> Response:
    """A plan in a file, JSON or table, as the document that it is."""
    _, uploaded = await _sent(request)
    document = await run_in_threadpool(read_plan_document, uploaded)
    return Response(json.dumps(document), media_type="application/json")


@router.post("/sites/read")
async def read_sites(request: Request) -> Response:
    """Sites in a GeoPackage, as the GeoJSON that a screening takes."""
    _, uploaded = await _sent(request)
    document = await run_in_threadpool(read_geopackage, uploaded)
    return Response(json.dumps(document), media_type="application/geo+json")


# --- shared ---


async def _sent(request: Request) -> tuple[dict[str, list[str]], bytes]:
    """The fields that were sent, and the file."""
    limit = settings().max_body_bytes
    fields: dict[str, list[str]] = {}
    uploaded = b""
    async with request.form(max_files=1, max_fields=400, max_part_size=limit) as sent:
        for name, value in sent.multi_items():
            if isinstance(value, UploadFile):
                uploaded = await value.read()
            else:
                fields.setdefault(name, []).append(value)
    return fields, uploaded


async def _stock_asked(request: Request) -> tuple[StockTable, StockQuestion]:
    fields, uploaded = await _sent(request)
    return await _stock_of(request, list_form(fields, uploaded))


async def _stock_of(request: Request, form: ListForm) -> tuple[StockTable, StockQuestion]:
    question = StockQuestion(form.places, form.chosen_acts, today(), form.from_state)
    if len(form.file) > LARGE_WORKBOOK:
        await take_turn(request)
    table = await run_in_threadpool(stock_of, form)
    check_labels(table.labels, settings(), "plants")
    findings = len(table.rows), len(question.jurisdictions), len(question.acts)
    check_findings(*findings, settings(), "plants")
    if prod(findings) >= LARGE:
        await take_turn(request)
    return table, question


def _reasons(library: Library, labels: Sequence[str], question: StockQuestion) -> list[str]:
    lines = within_time(StockChecker(library, question).check(labels))
    return [line_reasons(line, question.jurisdictions) for line in lines]


def _offered(library: Library, typed: str) -> list[dict[str, str]]:
    sought = " ".join(typed.casefold().split())
    if len(sought) < 3:
        return []
    scored = [
        (not name.name.casefold().startswith(sought), len(name.name), name.name, name.plant_id)
        for name in library.names
        if sought in name.name.casefold()
    ]
    found: dict[str, dict[str, str]] = {}
    for *_, name, plant_id in sorted(scored):
        plant = library.plants.get(plant_id)
        if plant is not None and name not in found:
            found[name] = {"name": name, "meant": plant.accepted_name}
        if len(found) == 8:
            break
    return list(found.values())


def _asked(request: Request) -> page.Asked:
    query = request.query_params
    states = [*query.getlist("in"), *query.get("also", "").replace(";", ",").split(",")]
    return page.Asked(
        label=query.get("label", "").strip()[:2_000],
        places=tuple(dict.fromkeys(state.strip() for state in states if state.strip())),
        county=(query.get("county") or query.get("in_county") or "").strip(),
        acts=tuple(query.getlist("act")) or _LOOK_UP_ACTS,
    )


def _look_up(library: Library, asked: page.Asked) -> page.LookUp:
    places = read_jurisdictions(asked.places, "in")
    county = (
        library.counties.find(read_state(places[0], "in"), asked.county) if asked.county else None
    )
    acts, on = read_acts(asked.acts), today()
    questions = [
        Question(place, act, on, county.fips if county and place == places[0] else None)
        for place in places
        for act in acts
    ]
    answer = check_label(library, asked.label, questions)
    answers = tuple(
        page.PlaceAnswer(
            place,
            agreeing(found for found in answer.findings if found.jurisdiction == place),
            standing_of(library.law, place, on).phrase,
        )
        for place in places
    )
    facts = plant_facts(library, answer.resolution, places, on)
    return page.LookUp(asked.label, county, answer.resolution, answers, facts)


def _box(text: str) -> Box:
    try:
        west, south, east, north = (float(part) for part in text.split(","))
    except ValueError as error:
        raise BadRequest(
            "The box is not four numbers.",
            pointer="box",
            next_step="Write it as west,south,east,north in degrees.",
        ) from error
    if not (west < east and south < north):
        raise BadRequest("The box is empty.", pointer="box")
    return Box(max(west, -180.0), max(south, -90.0), min(east, 180.0), min(north, 90.0))


def _demo(name: str) -> bytes:
    return files("demo_data").joinpath("plans", name).read_bytes()


def _download(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}"'}
