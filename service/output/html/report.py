"""The printable report of a plan: one HTML document that needs nothing else, neither network nor
script.
"""

import base64
import hashlib
from collections.abc import Iterable
from functools import cache
from importlib.resources import files

from markupsafe import Markup

from service.checks.community.values import CommunityAnswer
from service.checks.plan.calendar import by_season, calendar_of, frost_date
from service.checks.plan.values import PlanAnswer, PlantingAnswer
from service.containment import Figure
from service.output.html.client_views import (
    FULL_ROWS,
    LONGEST,
    askings,
    headline,
    nativity_notes,
    nativity_words,
    plant_groups,
    verdict_mark,
)
from service.output.html.report_measures import Bench, MeasureView
from service.output.html.report_views import (
    confirm_with,
    deciding_places,
    densities,
    fit_views,
    interval_bar,
    law_rows,
    permit_rows,
    plant_cautions,
    shared_cautions,
    source_words,
    tally,
    water_rows,
)
from service.output.html.templating import Citing, Isolator, templates
from service.output.maps import Outlines, map_box, plan_maps
from service.output.words import place_name
from service.store.geography import states_in_box
from service.store.library import Library
from service.values.words import joined

MOST_DECISIONS, FEW_DECISIONS, MOST_UNSETTLED = 5, 3, 8
"""Decisions on the first page, and facts in the table."""


def report_of(library: Library, answer: PlanAnswer, *, brief: bool = False) -> str:
    """The report with the state lines that the store holds."""
    box = map_box(answer)
    states = states_in_box(library.build.connection, box) if box else None
    return plan_report(answer, states=states, brief=brief)


def plan_report(answer: PlanAnswer, *, states: Outlines | None = None, brief: bool = False) -> str:
    """The report as an HTML document: two pages for the client, then the appendix for who reviews
    the plan. The same answer gives the same bytes.

    Args:
        states: the part of each state in ``map_box(answer)``, for the state line on the map.
        brief: without the appendix.
    """
    citing = Citing()
    notes = nativity_notes(answer)
    bench = Bench()
    measures = {entry.number: _measures(bench, entry) for entry in answer.plantings}
    maps = plan_maps(answer, states or {})
    waters = maps[0].waters if maps else ()
    keys = {water.water.reached.water.water_id: water.key for water in waters}
    context = {
        "answer": answer,
        "askings": askings(answer),
        "bar": interval_bar,
        "brief": brief,
        "calendar": by_season(calendar_of(answer)),
        "check_numbers": lambda check: answer.numbers_of(check.known.source),
        "cite": _no_mark if brief else citing.mark,
        "cited": citing.places,
        "confirm_with": confirm_with,
        "deciding_places": deciding_places,
        "frost_from": frost_date(answer),
        "densities": densities(answer),
        "fit_views": fit_views,
        "groups": plant_groups(answer, notes),
        "headline": headline(answer),
        "isolate": Isolator(_own_texts(answer)),
        "law_rows": law_rows,
        "maps": maps,
        "full_rows": FULL_ROWS,
        "longest": LONGEST if len(answer.plantings) <= FULL_ROWS else LONGEST // 3,
        "measures_of": measures,
        "nativity_notes": notes,
        "nativity_words": nativity_words,
        "permits": permit_rows(answer),
        "verdict_mark": verdict_mark,
        "method_numbers": lambda figure: _numbers(answer, figure),
        "most_decisions": MOST_DECISIONS if len(answer.plantings) <= FULL_ROWS else FEW_DECISIONS,
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


def _no_mark(_: int | Iterable[int]) -> Markup:
    """No citation: the sources are in the appendix."""
    return Markup("")


def _own_texts(answer: PlanAnswer) -> Iterable[str]:
    """What people wrote and may stand inside a sentence."""
    yield from (answer.title, answer.prepared_for, answer.prepared_by, answer.note)
    yield from (planting.label for planting in answer.plantings)
    yield from (place.place.name for place in answer.places)
    yield from (water.reached.water.name for water in answer.site.waters)


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


MOST_SENDERS = 5
"""Senders told of each water."""


def community_report(answer: CommunityAnswer) -> str:
    """The summary as an HTML document. The same answer gives the same bytes."""
    context = {
        "answer": answer,
        "isolate": Isolator(_texts_of_sites(answer)),
        "most_senders": MOST_SENDERS,
        "policy": report_policy(),
        "style": Markup(report_style()),
        "title": answer.title or "Community screening",
    }
    return templates().get_template("community/summary.html.j2").render(context)


def _texts_of_sites(answer: CommunityAnswer) -> Iterable[str]:
    """What people wrote and may stand inside a sentence."""
    yield answer.title
    for site in answer.sites:
        yield site.name
        yield from (planting.label for planting in site.plantings)
    yield from (water.water.name for water in answer.waters)
