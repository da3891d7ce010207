"""Reading a plan from a table: one planting a row, with the facts of its place and of the site in
columns of their own, see ``plan_columns``.

Facts of one place may be in any of its rows, and must not contradict.
"""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import shapely
from pydantic import BaseModel

from service.checks.plan.request import Plan, Planting
from service.checks.plan.values import Problem
from service.errors import BadRequest
from service.input.json_document import parse_json
from service.input.plan import read_plan
from service.input.plan_columns import (
    GEOMETRY,
    PLACE,
    PLACE_DESIGN,
    PLANTING,
    PLANTING_DESIGN,
    SITE,
    column_of,
    is_answer,
    suggestion,
)
from service.input.plan_document import PlaceDesign, PlacePart, PlantingDesign, PlantingPart
from service.input.quantity import number
from service.input.salvage import as_meant, kinds_of
from service.input.stock_table import read_stock

_MARKED = re.compile(r"'[=+\-@]")


def read_plan_table(
    content: bytes,
    *,
    site: Mapping[str, Any] | None = None,
    waters: Sequence[Mapping[str, Any]] = (),
    title: str = "",
) -> Plan:
    """A plan from a delimited text or a workbook.

    Args:
        site: the site as in the document; goes before the ``site_`` columns.
        waters: as in the document.
        title: of a table that has none.

    Raises:
        BadRequest: not a table, no column for the label, no site, or no row that can be read.
    """
    document, problems, row_of = _document(content, site or {}, waters, title)
    try:
        plan = read_plan(document)
    except BadRequest as error:
        raise BadRequest(
            error.detail, pointer=_in_table(error.pointer, row_of), next_step=error.next_step
        ) from error
    return replace(
        plan,
        plantings=tuple(_planting_in_table(planting, row_of) for planting in plan.plantings),
        problems=(*problems, *_problems_in_table(plan.problems, row_of)),
    )


def table_document(content: bytes) -> dict[str, Any]:
    """A plan table as the plan document that says the same.

    Raises:
        BadRequest: not a table, or no column for the label.
    """
    return _document(content, {}, (), "")[0]


def _document(
    content: bytes, site: Mapping[str, Any], waters: Sequence[Mapping[str, Any]], title: str
) -> tuple[dict[str, Any], list[Problem], list[int]]:
    """The document, what could not be read, and the row in the file of each planting."""
    table = read_stock(content)
    columns = [column_of(heading) for heading in table.header]
    columns[table.label_column] = ("label", "")
    problems = list(_unread(table.header, columns))
    rows = [dict(_cells(columns, row)) for row in table.rows]
    numbered = [
        (line, row) for line, row in enumerate(rows, start=table.first_row) if any(row.values())
    ]
    places = _places(numbered, problems)
    document: dict[str, Any] = {
        "title": _first(numbered, "plan_title") or title,
        "site": {
            **_site(numbered),
            **{key: value for key, value in site.items() if value not in (None, "")},
        },
        "waters": list(waters),
        "places": list(places.values()),
        "plantings": [_planting(row) for _, row in numbered],
    }
    if _first(numbered, "plan_date"):
        document["date"] = _first(numbered, "plan_date")
    return document, problems, [line for line, _ in numbered]


def _planting_in_table(planting: Planting, row_of: list[int]) -> Planting:
    return replace(
        planting,
        pointer=_in_table(planting.pointer, row_of),
        problems=tuple(_problems_in_table(planting.problems, row_of)),
    )


def _problems_in_table(problems: Sequence[Problem], row_of: list[int]) -> Iterator[Problem]:
    for problem in problems:
        yield replace(problem, pointer=_in_table(problem.pointer, row_of))


def _unread(headings: Sequence[str], columns: Sequence[tuple[str, str]]) -> Iterator[Problem]:
    """Columns that mean nothing in a plan, with the nearest that does, and columns that repeat."""
    seen: dict[str, str] = {}
    for heading, (name, _) in zip(headings, columns, strict=True):
        if not heading.strip() or is_answer(heading):
            continue
        if not name:
            detail = "This column is not a fact of a plan and was not read."
            yield Problem(f"column {heading!r}", detail, suggestion(heading))
        elif name in seen:
            detail = f"It says the same as column {seen[name]!r}; only that one was read."
            yield Problem(f"column {heading!r}", detail, "Leave out one of the two.")
        seen.setdefault(name, heading)


def _cells(columns: Sequence[tuple[str, str]], row: Sequence[str]) -> Iterator[tuple[str, str]]:
    """The cells of a row by column, numbers with the unit that the heading names."""
    done: set[str] = set()
    for (name, unit), cell in zip(columns, row, strict=False):
        text = _unmarked(cell)
        if not name or name in done:
            continue
        if text:
            done.add(name)
        yield name, f"{text} {unit}" if unit and number(text) is not None else text


def _planting(row: Mapping[str, str]) -> dict[str, Any]:
    facts = {name: _value(PlantingPart, name, row[name]) for name in PLANTING if row.get(name)}
    design = {
        name: _value(PlantingDesign, name, row[name]) for name in PLANTING_DESIGN if row.get(name)
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
    for line, row in rows:
        name = row.get("place", "")
        if not name and any(row.get(f"place_{fact}") for fact in PLACE):
            problems.append(
                Problem(
                    f"row {line}",
                    "The row has facts of a place and does not name the place.",
                    'Fill in the column "place".',
                )
            )
        if not name:
            continue
        place = places.setdefault(name, {"name": name})
        facts: dict[str, Any] = {
            fact: _value(PlacePart, fact, row[f"place_{fact}"])
            for fact in PLACE
            if row.get(f"place_{fact}")
        }
        shape = _geometry(row, "place_")
        facts |= {GEOMETRY: shape} if shape is not None else {}
        design = {
            fact: _value(PlaceDesign, fact, row[f"place_{fact}"])
            for fact in PLACE_DESIGN
            if row.get(f"place_{fact}")
        }
        for target, found in ((place, facts), (place.setdefault("design", {}), design)):
            for fact, value in found.items():
                if (name, fact) not in contradicted and target.setdefault(fact, value) != value:
                    at = f'row {line}, column "place_{fact}"'
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
        name: _first(rows, f"site_{name}") for name in SITE if _first(rows, f"site_{name}")
    }
    shape = next((found for _, row in rows if (found := _geometry(row, "site_")) is not None), None)
    return facts | ({GEOMETRY: shape} if shape is not None else {})


def _first(rows: list[tuple[int, dict[str, str]]], column: str) -> str:
    return next((row[column] for _, row in rows if row.get(column)), "")


def _geometry(row: Mapping[str, str], prefix: str) -> Any:
    """The geometry of a row as GeoJSON; what is not WKT is handed on to be refused with its
    place.
    """
    text = row.get(f"{prefix}{GEOMETRY}", "")
    if text:
        try:
            return json.loads(shapely.to_geojson(shapely.from_wkt(text)))
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
    """A cell as the document has it; lists are separated by semicolons."""
    kinds = kinds_of(model.model_fields[name])
    if any(getattr(kind, "__origin__", None) in (list, tuple) for kind in kinds):
        return [_measure(part) for part in re.split(r"[;,]\s*", text) if part.strip()]
    return as_meant(name, kinds, text)


def _measure(text: str) -> Any:
    """``outlet-screen (2 mm)`` as a measure with its opening; a number as such."""
    found = re.fullmatch(r"([a-z-]+) \(([\d.]+) mm\)", text.strip())
    if found:
        return {"measure": found[1], "opening_mm": float(found[2])}
    value = number(text)
    return text.strip() if value is None else value


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


def read_plan_document(content: bytes) -> dict[str, Any]:
    """The plan document of a file: JSON as it is, a table row by row.

    Raises:
        BadRequest: neither a plan document nor a table with a column that names the plants.
    """
    if not content.strip():
        raise BadRequest("The file is empty.", pointer="file")
    if content.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"{"):
        return parse_json(content)
    return table_document(content)
