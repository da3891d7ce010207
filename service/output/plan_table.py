"""A plan's answer as a table: the columns that came in, then the answers; it can be read again as
a plan.
"""

import csv
import io
from collections.abc import Iterator
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from service.checks.plan.values import NumberedSource, PlanAnswer, PlantingAnswer
from service.input.plan_columns import (
    ANSWERS,
    GEOMETRY,
    PLACE,
    PLACE_DESIGN,
    PLANTING_DESIGN,
    given_columns,
)
from service.output.csv import escape_formula
from service.values.vocabulary import Outcome


def write_plan_table(answer: PlanAnswer) -> str:
    """The plantings with the facts that were given and the answers beside them; RFC 4180."""
    asked = dict.fromkeys(_outcomes_of(answer))
    rows = [
        _given(answer, planting) | _answered(answer, planting, list(asked))
        for planting in answer.plantings
    ]
    answers = [*ANSWERS[:6], *asked, *ANSWERS[6:]]
    given = [
        name for name in given_columns() if name == "label" or any(row.get(name) for row in rows)
    ]
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([*given, *answers])
    for row in rows:
        writer.writerow([escape_formula(row.get(name, "")) for name in (*given, *answers)])
    return buffer.getvalue()


def _given(answer: PlanAnswer, planting: PlantingAnswer) -> dict[str, str]:
    position = planting.position
    row: dict[str, Any] = {
        "label": planting.label,
        "count": planting.count,
        "place": planting.place,
        "crown_depth_cm": position.crown_depth_cm,
        "holding": position.holding,
        "container_volume_l": position.container_volume_l,
        "soil": position.soil,
        "light": position.light,
        "flow": position.flow,
        "acts": "; ".join(planting.acts),
        "brought_from": planting.brought_from,
        "containment": "; ".join(
            f"{measure.kind} ({measure.opening_mm:g} mm)" if measure.opening_mm else measure.kind
            for measure in planting.planned
        ),
        **{name: getattr(planting.design, name) for name in PLANTING_DESIGN},
        GEOMETRY: _own_shape(answer, planting),
        **_given_site(answer),
    }
    if planting.place:
        place = answer.place(planting.place)
        row |= {f"place_{name}": getattr(place.place, name) for name in PLACE}
        row |= {f"place_{name}": getattr(planting.design, name) for name in PLACE_DESIGN}
        row["place_geometry"] = _wkt(place.shape)
    return {name: _cell(value) for name, value in row.items()}


def _given_site(answer: PlanAnswer) -> dict[str, Any]:
    stated = answer.site.stated
    return {
        "site_state": stated.state,
        "site_county": stated.county,
        "site_zip": stated.zip_code,
        "site_hardiness_zone": stated.hardiness_zone,
        "site_first_frost": stated.first_frost,
        "site_geometry": _wkt(stated.shape),
        "plan_title": answer.title,
        "plan_date": answer.as_of.isoformat(),
    }


def _answered(answer: PlanAnswer, planting: PlantingAnswer, asked: list[str]) -> dict[str, str]:
    escape, containment, fit = planting.escape, planting.worst_containment, planting.worst_fit
    outcomes = dict(_outcomes(planting))
    farthest = (
        max(escape.waters, key=lambda water: (water.estimate.likely, water.estimate.high))
        if escape
        else None
    )
    instead = planting.substitutes.plants if planting.substitutes else ()
    return {
        "number": str(planting.number),
        "match": planting.resolution.match,
        "accepted_name": "; ".join(
            candidate.accepted_name for candidate in planting.resolution.candidates
        ),
        "confirmed": _cell(planting.resolution.confirmed),
        "outcome": planting.outcome or "",
        "verified": _cell(planting.verified),
        **{column: outcomes.get(column, "") for column in asked},
        "fit": fit.verdict if fit else "",
        "escape_class": (escape.escape_class or "native") if escape else "",
        "escape_likely": f"{escape.likely:.4f}" if escape else "",
        "escape_low": f"{escape.low:.4f}" if escape else "",
        "escape_high": f"{escape.high:.4f}" if escape else "",
        "escape_to": (farthest.name or farthest.water_id) if farthest else "",
        "held_by": containment.verdict if containment else "",
        "verdict": planting.verdict,
        "conditions": " ".join(planting.conditions),
        "nativity": planting.nativity.status if planting.nativity else "",
        "restricted_in": " ".join(planting.restricted_in),
        "instead": "; ".join(substitute.accepted_name for substitute in instead),
        "remarks": " ".join(planting.notes),
        "citations": "; ".join(
            _cited(answer.source(number))
            for number in planting.sources
            if answer.source(number).kind in ("law", "own-rule")
        ),
        "store_build": answer.store_build,
    }


def _outcomes_of(answer: PlanAnswer) -> Iterator[str]:
    for planting in answer.plantings:
        yield from (column for column, _ in _outcomes(planting))


def _outcomes(planting: PlantingAnswer) -> Iterator[tuple[str, Outcome]]:
    yield from (
        (f"{finding.finding.jurisdiction}:{finding.finding.act}", finding.finding.outcome)
        for finding in planting.findings
    )
    if planting.lane is not None:
        lane = planting.lane.lane
        yield f"{lane.origin}>{lane.destination}:ship", lane.outcome


def _cited(source: NumberedSource) -> str:
    return f"{source.jurisdiction} {source.citation} ({source.class_name}: {source.name_as_listed})"


def _own_shape(answer: PlanAnswer, planting: PlantingAnswer) -> str:
    """Of a planting that has a position of its own."""
    position = planting.position_on_map
    shared = [answer.site.position, *(place.position for place in answer.places)]
    return "" if position is None or position in shared else shapely.Point(position).wkt


def _wkt(shape: BaseGeometry | None) -> str:
    return "" if shape is None else str(shapely.to_wkt(shape, rounding_precision=7))


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "; ".join(f"{number:g}" for number in value)
    return repr(value) if isinstance(value, float) else str(value)
