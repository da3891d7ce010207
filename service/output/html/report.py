"""The printable report of a plan: one HTML document that needs nothing else, neither network nor
script.
"""

import base64
import hashlib
from functools import cache
from importlib.resources import files

from markupsafe import Markup

from service.checks.plan.values import PlanAnswer, PlantingAnswer
from service.containment import Figure
from service.output.html.citing import Citing
from service.output.html.report_views import (
    Bench,
    MeasureView,
    confirm_with,
    deciding_places,
    fit_views,
    interval_bar,
    law_rows,
    plant_cautions,
    shared_cautions,
    source_words,
    tally,
    water_rows,
)
from service.output.html.templating import templates
from service.output.maps import Outlines, map_box, plan_maps
from service.output.words import joined, place_name
from service.store.library import Library
from service.store.outlines import states_in_box

MOST_DECISIONS, MOST_UNSETTLED = 7, 20
"""Decisions on the first page, and facts in the table."""


def report_of(library: Library, answer: PlanAnswer) -> str:
    """The report with the state lines that the store holds."""
    box = map_box(answer)
    return plan_report(answer, states=states_in_box(library.build.connection, box) if box else None)


def plan_report(answer: PlanAnswer, *, states: Outlines | None = None) -> str:
    """The report as an HTML document. The same answer gives the same bytes.

    Args:
        states: the part of each state in ``map_box(answer)``, for the state line on the map.
    """
    citing = Citing()
    bench = Bench()
    measures = {each.number: _measures(bench, each) for each in answer.plantings}
    maps = plan_maps(answer, states or {})
    waters = maps[0].waters if maps else ()
    keys = {each.water.reached.water.water_id: each.key for each in waters}
    context = {
        "answer": answer,
        "bar": interval_bar,
        "check_numbers": lambda check: answer.numbers_of(check.known.source),
        "cite": citing.mark,
        "cited": citing.places,
        "confirm_with": confirm_with,
        "deciding_places": deciding_places,
        "fit_views": fit_views,
        "law_rows": law_rows,
        "maps": maps,
        "measures_of": measures,
        "method_numbers": lambda figure: _numbers(answer, figure),
        "most_decisions": MOST_DECISIONS,
        "most_unsettled": MOST_UNSETTLED,
        "plant_cautions": plant_cautions,
        "policy": report_policy(),
        "shared_cautions": shared_cautions(answer),
        "site_line": _site_line(answer),
        "source_words": source_words,
        "style": Markup(report_style()),
        "tally": tally(answer),
        "title": answer.title or "Planting plan",
        "water_rows": lambda planting: water_rows(planting, keys),
        "waters": waters,
        "workings": tuple(bench.workings.values()),
    }
    return templates().get_template("report/report.html.j2").render(context)


@cache
def report_style() -> str:
    """The style sheet that every report carries."""
    return files("service.output.html").joinpath("static", "report.css").read_text(encoding="utf-8")


@cache
def report_policy() -> str:
    """The Content-Security-Policy that a report is to be served with: its own style and nothing
    else.
    """
    digest = base64.b64encode(hashlib.sha256(report_style().encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


def _measures(bench: Bench, planting: PlantingAnswer) -> tuple[MeasureView, ...]:
    plan = planting.worst_containment
    return bench.measures(planting, plan) if plan else ()


def _numbers(answer: PlanAnswer, figure: Figure) -> tuple[int, ...]:
    """Numbers of the references behind a figure and what went into it."""
    texts = [*figure.sources, *(given.known.source for given in figure.inputs)]
    return tuple(dict.fromkeys(number for text in texts for number in answer.numbers_of(text)))


def _site_line(answer: PlanAnswer) -> str:
    """Where the site lies, in one line."""
    site = answer.site
    parts = [
        site.locality.county_name,
        place_name(site.locality.state) if site.locality.state else "state not known",
    ]
    zones = site.location.zones
    if zones:
        parts.append(f"hardiness zone {joined(zones, 'or')}")
    line = ", ".join(part for part in parts if part)
    return line + (
        f"; its water reaches {joined(place_name(state) for state in site.downstream_states)}"
        if site.downstream_states
        else ""
    )
