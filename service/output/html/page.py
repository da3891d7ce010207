"""The page: what it shows for what was asked, as HTML. Works without script; ``static/page.js``
only saves a reload.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

from markupsafe import Markup

from service.cautions.general import STANDING_CAUTIONS
from service.checks.plan.values import PlanAnswer
from service.checks.stock import StockLine, StockQuestion
from service.errors import ReedgateError
from service.geography import County
from service.geography.geodesy import Box
from service.input.page_form import PLACE_QUESTIONS, PageForm
from service.input.stock_table import StockTable
from service.names import Resolution
from service.output.html.page_views import agreeing, held, stock_rows
from service.output.html.report_views import deciding_places, interval_bar, tally
from service.output.html.templating import templates
from service.output.maps.coverage import coverage_svg
from service.output.maps.picker import counties_map, county_map, states_map
from service.regulation.coverage import coverage_table
from service.regulation.finding import Finding
from service.store.library import Library
from service.store.outlines import county_outlines, state_outlines, water_shapes_in_box
from service.values.vocabulary import ACTS, JURISDICTION_NAMES, STATES, BuildId, Jurisdiction

STATIC: dict[str, str] = {
    "page.css": "text/css",
    "page.js": "text/javascript",
    "mark.svg": "image/svg+xml",
}
"""Files that the page asks for, and their media types."""
PLAN_ACTS = ("buy", "possess", "plant")
"""Ticked until somebody says otherwise."""
MOST_WATERS = 4_000
"""Parts of waters drawn on the map of a county."""

EXAMPLE = """Eichhornia crassipes (Water Hyacinth) bunch
Yellow flag iris
Pickerel rush, blue, 1 gal
Water celery, varieg. 4in
Blue flag iris - Iris versicolor
Parrot's feather
Hardy Lily 'Colorado' BR
Marsh marigold, Caltha palustris 1gal
"""
"""A list to try: names as they stand on tags."""


@dataclass(frozen=True, slots=True)
class LookUp:
    """One plant in one place, answered."""

    label: str
    state: Jurisdiction
    county: County | None
    resolution: Resolution
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Where:
    """The place chosen so far, and the map to choose further on."""

    state: Jurisdiction | None
    county: County | None
    counties: tuple[County, ...]
    map: Markup
    title: str

    def as_json(self) -> str:
        """For the script, which puts it in place without a reload."""
        counties = [[each.fips, each.full_name] for each in self.counties]
        return json.dumps({"title": self.title, "counties": counties, "map": self.map})


def where_of(library: Library, state: Jurisdiction | None, county: County | None) -> Where:
    """The map of the states, of the counties of a state, or of one county with its waters."""
    if state is None:
        return Where(None, None, (), _states_of(library.build_id, library), "Choose a state")
    counties = tuple(sorted(library.counties.of_state(state), key=lambda each: each.full_name))
    outlines = county_outlines(library.build.connection, state)
    if county is None or county.fips not in outlines:
        return Where(
            state,
            county,
            counties,
            counties_map(state, outlines, counties, None),
            f"{JURISDICTION_NAMES[state]}: choose a county",
        )
    outline = outlines[county.fips]
    waters = water_shapes_in_box(library.build.connection, Box(*outline.bounds), MOST_WATERS)
    title = f"{county.full_name}, {JURISDICTION_NAMES[state]}"
    return Where(state, county, counties, county_map(county, outline, waters), title)


@lru_cache(maxsize=2)
def _states_of(_: BuildId, library: Library) -> Markup:
    return states_map(state_outlines(library.build.connection))


def index_page(
    library: Library,
    form: PageForm,
    where: Where,
    on: date,
    *,
    look_up: LookUp | None = None,
    asked: Mapping[str, str],
) -> str:
    """The page itself, with the answer to a look-up where one was asked.

    Args:
        asked: the fields of the look-up as given.
    """
    table = coverage_table(library.law, on)
    return _render(
        "page/index.html.j2",
        form=form,
        where=where,
        look_up=look_up,
        groups=agreeing(look_up.findings) if look_up else (),
        asked=asked,
        held=held(table),
        coverage=Markup(coverage_svg(table, as_of=on.isoformat())),
        on=on,
        build=library.build_id,
    )


def coverage_page(library: Library, on: date) -> str:
    """How much law is held, state by state: the map and the table."""
    table = coverage_table(library.law, on)
    svg = Markup(coverage_svg(table, as_of=on.isoformat()))
    return _render(
        "page/coverage.html.j2",
        table=table,
        held=held(table),
        coverage=svg,
        on=on,
        build=library.build_id,
    )


def error_page(error: ReedgateError) -> str:
    """What is wrong and what to do next."""
    return _render("page/error.html.j2", error=error, pointer=getattr(error, "pointer", ""))


def error_part(error: ReedgateError) -> str:
    """The same as a part, to stand where the answer would."""
    return _render("page/error_part.html.j2", error=error, pointer=getattr(error, "pointer", ""))


def stock_page(
    library: Library,
    form: PageForm,
    table: StockTable,
    lines: Iterable[StockLine],
    question: StockQuestion,
) -> Iterator[str]:
    """The answered list as a page that begins before it is finished."""
    context = _stock_context(library, table, question) | {
        "form": form,
        "rows": stock_rows(table, lines, question),
    }
    yield from templates().get_template("page/stock.html.j2").generate(_common() | context)


def stock_events(
    library: Library, table: StockTable, lines: Iterable[StockLine], question: StockQuestion
) -> Iterator[str]:
    """The answered list as events, one JSON object a line: its head, each row as it comes, its
    foot.
    """
    context = _stock_context(library, table, question)
    total = sum(bool(label) for label in table.labels)
    yield _event("head", html=_render("page/stock_head.html.j2", **context), total=total)
    row = templates().get_template("page/stock_row.html.j2")
    common = _common() | context
    for done, each in enumerate(stock_rows(table, lines, question), start=1):
        yield _event("row", html=row.render(common | {"row": each}), done=done)
    yield _event("foot", html=_render("page/stock_foot.html.j2", **context))


def plan_event(answer: PlanAnswer) -> str:
    """The answered plan in short, as the last event of its work."""
    return _event(
        "foot",
        html=_render(
            "page/plan.html.j2", answer=answer, tally=tally(answer), deciding_places=deciding_places
        ),
    )


def progress_event(done: int, total: int) -> str:
    """How far the work is."""
    return _event("progress", done=done, total=total)


def error_event(error: ReedgateError) -> str:
    """An error that came when the answer had begun."""
    return _event("error", html=error_part(error))


def static_file(name: str) -> bytes:
    """One of ``STATIC``."""
    return files("service.output.html").joinpath("static", name).read_bytes()


@cache
def static_version(name: str) -> str:
    """Part of its address that changes with its content, so that it can be kept for good."""
    return hashlib.sha256(static_file(name)).hexdigest()[:12]


def _stock_context(library: Library, table: StockTable, question: StockQuestion) -> dict[str, Any]:
    return {
        "question": question,
        "notes": (*table.notes, *map(str, table.problems)),
        "cautions": STANDING_CAUTIONS,
        "build": library.build_id,
        "on": question.on,
    }


def _event(kind: str, **facts: object) -> str:
    return json.dumps({"kind": kind, **facts}) + "\n"


def _render(template: str, **context: Any) -> str:
    return templates().get_template(template).render(_common() | context)


def _common() -> dict[str, Any]:
    return {
        "acts": ACTS,
        "bar": interval_bar,
        "build": "",
        "example": EXAMPLE,
        "on": None,
        "plan_acts": PLAN_ACTS,
        "questions": PLACE_QUESTIONS,
        "states": STATES,
        "versions": {name: static_version(name) for name in STATIC},
    }
