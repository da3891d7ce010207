"""A plan as a table: one planting a row, with the facts of its place and of the site in columns of
their own.

Columns of a planting bear the names of the document; those of its place begin with ``place_``,
those of the site with ``site_``, the day is ``plan_date``. Geometries are WKT. Facts of one place
may stand in any of its rows, and must not contradict. The table that goes out has the columns that
came in, then the answers, and can be read again.
"""

import csv
import io
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import shapely
from pydantic import BaseModel
from shapely.geometry.base import BaseGeometry

from service.checks.plan.request import Plan
from service.checks.plan.values import NumberedSource, PlanAnswer, PlantingAnswer, Problem
from service.errors import BadRequest
from service.input.plan import read_plan
from service.input.plan_document import (
    PlaceDesign,
    PlacePart,
    PlantingDesign,
    PlantingPart,
    SitePart,
)
from service.input.stock_table import harmless, read_stock
from service.output.geojson import geojson
from service.values.vocabulary import Outcome

_GEOMETRY = "geometry"
_PLANTING = [
    name for name in PlantingPart.model_fields if name not in ("label", "design", _GEOMETRY)
]
_PLANTING_DESIGN = list(PlantingDesign.model_fields)
_PLACE = [name for name in PlacePart.model_fields if name not in ("name", "design", _GEOMETRY)]
_PLACE_DESIGN = [name for name in PlaceDesign.model_fields if name != "cover_parts"]
_SITE = [name for name in SitePart.model_fields if name != _GEOMETRY]
ANSWERS = (
    "number",
    "match",
    "accepted_name",
    "confirmed",
    "outcome",
    "verified",
    "fit",
    "escape_class",
    "escape_low",
    "escape_high",
    "escape_to",
    "held_by",
    "verdict",
    "conditions",
    "nativity",
    "restricted_in",
    "instead",
    "remarks",
    "citations",
    "store_build",
)
"""Columns of the answer, beside one for each state and act; passed over when the table is read
again.
"""

_OUTCOME_COLUMN = re.compile(r"US(-[A-Z]{2})?(>US-[A-Z]{2})?:\w+")
_YES, _NO = frozenset({"yes", "true", "y", "1"}), frozenset({"no", "false", "n", "0"})
_MARKED = re.compile(r"'[=+\-@]")


def read_plan_table(
    content: bytes, *, site: Mapping[str, Any] | None = None, title: str = ""
) -> Plan:
    """A plan from a delimited text.

    Args:
        site: the site as in the document; goes before the ``site_`` columns.
        title: of a table that bears none.

    Raises:
        BadRequest: no text, no column for the label, no site, or no row that can be read.
    """
    table = read_stock(content)
    header = [re.sub(r"[\s-]+", "_", cell.strip().casefold()) for cell in table.header]
    header[table.label_column] = "label"
    problems = list(_unread(table.header, header))
    rows = [dict(zip(header, map(_unmarked, row), strict=False)) for row in table.rows]
    numbered = [
        (number, row) for number, row in enumerate(rows, start=table.first_row) if any(row.values())
    ]
    places = _places(numbered, problems)
    plantings = [_planting(row) for _, row in numbered]
    document: dict[str, Any] = {
        "title": _first(numbered, "plan_title") or title,
        "site": {
            **_site(numbered),
            **{key: value for key, value in (site or {}).items() if value not in (None, "")},
        },
        "places": list(places.values()),
        "plantings": plantings,
    }
    if _first(numbered, "plan_date"):
        document["date"] = _first(numbered, "plan_date")
    row_of = [number for number, _ in numbered]
    try:
        plan = read_plan(document)
    except BadRequest as error:
        raise BadRequest(
            error.detail, pointer=_in_table(error.pointer, row_of), next_step=error.next_step
        ) from error
    moved = [
        replace(problem, pointer=_in_table(problem.pointer, row_of)) for problem in plan.problems
    ]
    return replace(plan, problems=(*problems, *moved))


def write_plan_table(answer: PlanAnswer) -> str:
    """The plantings with the facts that were given and the answers beside them; RFC 4180."""
    asked = dict.fromkeys(_outcomes_of(answer))
    rows = [
        _given(answer, planting) | _answered(answer, planting, list(asked))
        for planting in answer.plantings
    ]
    answers = [*ANSWERS[:6], *asked, *ANSWERS[6:]]
    given = [
        name for name in _given_columns() if name == "label" or any(row.get(name) for row in rows)
    ]
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([*given, *answers])
    for row in rows:
        writer.writerow([harmless(row.get(name, "")) for name in (*given, *answers)])
    return buffer.getvalue()


def _given_columns() -> Iterator[str]:
    yield "label"
    yield from _PLANTING
    yield _GEOMETRY
    yield from _PLANTING_DESIGN
    yield from (f"place_{name}" for name in (*_PLACE, *_PLACE_DESIGN, _GEOMETRY))
    yield from (f"site_{name}" for name in (*_SITE, _GEOMETRY))
    yield from ("plan_title", "plan_date")


def _unread(shown: list[str], header: list[str]) -> Iterator[Problem]:
    known = {
        *_given_columns(),
        "longitude",
        "latitude",
        "site_longitude",
        "site_latitude",
        *ANSWERS,
    }
    for name, plain in zip(shown, header, strict=True):
        if plain and plain not in known and not _OUTCOME_COLUMN.fullmatch(name.strip()):
            yield Problem(f"column {name!r}", "This column is no fact of a plan and was not read.")


def _planting(row: Mapping[str, str]) -> dict[str, Any]:
    facts = {name: _value(PlantingPart, name, row[name]) for name in _PLANTING if row.get(name)}
    design = {
        name: _value(PlantingDesign, name, row[name]) for name in _PLANTING_DESIGN if row.get(name)
    }
    shape = _geometry(row, "")
    return {
        "label": row.get("label", ""),
        **facts,
        **({"geometry": shape} if shape is not None else {}),
        **({"design": design} if design else {}),
    }


def _places(
    rows: list[tuple[int, dict[str, str]]], problems: list[Problem]
) -> dict[str, dict[str, Any]]:
    """Each place with the facts of all its rows; of two that contradict, the fact is left out."""
    places: dict[str, dict[str, Any]] = {}
    contradicted: set[tuple[str, str]] = set()
    for number, row in rows:
        name = row.get("place", "")
        if not name and any(row.get(f"place_{fact}") for fact in _PLACE):
            problems.append(
                Problem(
                    f"row {number}",
                    "The row has facts of a place and does not name the place.",
                    'Fill in the column "place".',
                )
            )
        if not name:
            continue
        place = places.setdefault(name, {"name": name})
        facts: dict[str, Any] = {
            fact: _value(PlacePart, fact, row[f"place_{fact}"])
            for fact in _PLACE
            if row.get(f"place_{fact}")
        }
        shape = _geometry(row, "place_")
        facts |= {_GEOMETRY: shape} if shape is not None else {}
        design = {
            fact: _value(PlaceDesign, fact, row[f"place_{fact}"])
            for fact in _PLACE_DESIGN
            if row.get(f"place_{fact}")
        }
        for target, found in ((place, facts), (place.setdefault("design", {}), design)):
            for fact, value in found.items():
                if (name, fact) not in contradicted and target.setdefault(fact, value) != value:
                    at = f'row {number}, column "place_{fact}"'
                    problems.append(
                        Problem(
                            at,
                            f"Two rows say different things of {name!r}, so the fact is left out.",
                            "Make them alike.",
                        )
                    )
                    contradicted.add((name, fact))
                    del target[fact]
    return places


def _site(rows: list[tuple[int, dict[str, str]]]) -> dict[str, Any]:
    facts: dict[str, Any] = {
        name: _first(rows, f"site_{name}") for name in _SITE if _first(rows, f"site_{name}")
    }
    shape = next((found for _, row in rows if (found := _geometry(row, "site_")) is not None), None)
    return facts | ({_GEOMETRY: shape} if shape is not None else {})


def _first(rows: list[tuple[int, dict[str, str]]], column: str) -> str:
    return next((row[column] for _, row in rows if row.get(column)), "")


def _geometry(row: Mapping[str, str], prefix: str) -> Any:
    """The geometry of a row as GeoJSON; what is no WKT is handed on to be refused with its
    place.
    """
    text = row.get(f"{prefix}{_GEOMETRY}", "")
    if text:
        try:
            return geojson(shapely.from_wkt(text))
        except shapely.errors.GEOSException:
            return {"type": text[:40]}
    longitude, latitude = row.get(f"{prefix}longitude", ""), row.get(f"{prefix}latitude", "")
    if not longitude and not latitude:
        return None
    try:
        return {"type": "Point", "coordinates": [float(longitude), float(latitude)]}
    except ValueError:
        return {"type": "Point", "coordinates": [longitude, latitude]}


def _value(model: type[BaseModel], name: str, text: str) -> Any:
    """A cell as the document has it: lists parted by semicolons, yes and no, numbers left to be
    read as such.
    """
    annotation = str(model.model_fields[name].annotation)
    if "bool" in annotation:
        plain = text.strip().casefold()
        return True if plain in _YES else False if plain in _NO else text
    if "list[" in annotation or "tuple[" in annotation:
        return [_measure(part) for part in re.split(r"[;,]\s*", text) if part.strip()]
    if "float" in annotation or "int" in annotation:
        try:
            return json.loads(text.strip())
        except json.JSONDecodeError:
            return text
    return text


def _measure(text: str) -> Any:
    """``outlet-screen (2 mm)`` as a measure with its opening; a number as such."""
    found = re.fullmatch(r"([a-z-]+) \(([\d.]+) mm\)", text.strip())
    if found:
        return {"measure": found[1], "opening_mm": float(found[2])}
    try:
        return float(text)
    except ValueError:
        return text.strip()


def _unmarked(cell: str) -> str:
    """A cell without the apostrophe that keeps a spreadsheet from running it."""
    text = cell.strip()
    return text[1:] if _MARKED.match(text) else text


def _in_table(pointer: str, row_of: list[int]) -> str:
    """Where in the table a pointer into the document leads."""
    found = re.fullmatch(r"/plantings/(\d+)(?:/(?:design/)?(.*))?", pointer)
    if found:
        at = f"row {row_of[int(found[1])]}"
        return f'{at}, column "{found[2].split("/")[0]}"' if found[2] else at
    found = re.fullmatch(r"/site/(\w+).*", pointer)
    if found:
        return f'column "site_{found[1]}"'
    found = re.fullmatch(r"/places/\d+/(?:design/)?(\w+).*", pointer)
    return f'column "place_{found[1]}"' if found else pointer


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
            f"{each.kind} ({each.opening_mm:g} mm)" if each.opening_mm else each.kind
            for each in planting.planned
        ),
        **{name: getattr(planting.design, name) for name in _PLANTING_DESIGN},
        _GEOMETRY: _own_shape(answer, planting),
        **_given_site(answer),
    }
    if planting.place:
        place = answer.place(planting.place)
        row |= {f"place_{name}": getattr(place.place, name) for name in _PLACE}
        row |= {f"place_{name}": getattr(planting.design, name) for name in _PLACE_DESIGN}
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
        max(escape.waters, key=lambda water: (water.interval.high, water.interval.low))
        if escape
        else None
    )
    instead = planting.substitutes.plants if planting.substitutes else ()
    return {
        "number": str(planting.number),
        "match": planting.resolution.match,
        "accepted_name": "; ".join(each.accepted_name for each in planting.resolution.candidates),
        "confirmed": _cell(planting.resolution.confirmed),
        "outcome": planting.outcome or "",
        "verified": _cell(planting.verified),
        **{column: outcomes.get(column, "") for column in asked},
        "fit": fit.verdict if fit else "",
        "escape_class": escape.escape_class if escape else "",
        "escape_low": f"{escape.interval.low:.4f}" if escape else "",
        "escape_high": f"{escape.interval.high:.4f}" if escape else "",
        "escape_to": (farthest.name or farthest.water_id) if farthest else "",
        "held_by": containment.verdict if containment else "",
        "verdict": planting.verdict,
        "conditions": " ".join(planting.conditions),
        "nativity": planting.nativity.status if planting.nativity else "",
        "restricted_in": " ".join(planting.restricted_in),
        "instead": "; ".join(each.accepted_name for each in instead),
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
        (f"{each.finding.jurisdiction}:{each.finding.act}", each.finding.outcome)
        for each in planting.findings
    )
    if planting.lane is not None:
        lane = planting.lane.lane
        yield f"{lane.origin}>{lane.destination}:ship", lane.outcome


def _cited(source: NumberedSource) -> str:
    return f"{source.jurisdiction} {source.citation} ({source.class_name}: {source.name_as_listed})"


def _own_shape(answer: PlanAnswer, planting: PlantingAnswer) -> str:
    """Of a planting that has a position of its own."""
    position = planting.position_on_map
    shared = [answer.site.position, *(each.position for each in answer.places)]
    return "" if position is None or position in shared else shapely.Point(position).wkt


def _wkt(shape: BaseGeometry | None) -> str:
    return "" if shape is None else str(shapely.to_wkt(shape, rounding_precision=7))


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "; ".join(f"{each:g}" for each in value)
    return repr(value) if isinstance(value, float) else str(value)
