"""Columns of a plan as a table.

Columns of a planting have the names of the document; those of its place begin with ``place_``,
those of the site with ``site_``, the day is ``plan_date``. Geometries are WKT.
"""

import re
from collections.abc import Iterator

from service.input.plan_document import (
    PLACE_GEOMETRIES,
    PlaceDesign,
    PlacePart,
    PlantingDesign,
    PlantingPart,
    SitePart,
)
from service.input.quantity import UNITS, read_quantity, unit_of
from service.input.salvage import near_miss

GEOMETRY = "geometry"
PLANTING = [name for name in PlantingPart.model_fields if name not in ("label", "design", GEOMETRY)]
PLANTING_DESIGN = list(PlantingDesign.model_fields)
PLACE = [
    name for name in PlacePart.model_fields if name not in ("name", "design", *PLACE_GEOMETRIES)
]
PLACE_DESIGN = [name for name in PlaceDesign.model_fields if name != "cover_parts"]
SITE = [name for name in SitePart.model_fields if name != GEOMETRY]
ANSWERS = (
    "number",
    "match",
    "accepted_name",
    "confirmed",
    "outcome",
    "verified",
    "verdict",
    "conditions",
    "nativity",
    "restricted_in",
    "fit",
    "escape_class",
    "escape_likely",
    "escape_low",
    "escape_high",
    "escape_to",
    "held_by",
    "instead",
    "remarks",
    "citations",
    "store_build",
)
"""Columns of the answer, beside one for each state and act; passed over when the table is read
again.
"""
TEMPLATE = (
    "label",
    "count",
    "crown_depth_cm",
    "holding",
    "container_volume_l",
    "light",
    "flow",
    "brought_from",
    "place",
    "place_kind",
    "place_area_m2",
    "place_depth_cm",
    "place_flow",
    "place_light",
    "place_outlet",
    "place_overflow",
    "place_flood_prone",
    "place_bank_contact",
    "place_lined",
    "place_visited",
    "site_state",
    "site_county",
    "site_zip",
    "site_hardiness_zone",
)
"""Columns of an empty plan, those that narrow the answer most."""

_SAME_AS = {
    "qty": "count",
    "quantity": "count",
    "number_of_plants": "count",
    "plants": "count",
    "no_of_plants": "count",
    "state": "site_state",
    "county": "site_county",
    "zip": "site_zip",
    "zip_code": "site_zip",
    "zone": "site_hardiness_zone",
    "hardiness_zone": "site_hardiness_zone",
    "usda_zone": "site_hardiness_zone",
    "lat": "latitude",
    "lon": "longitude",
    "lng": "longitude",
    "pot_size": "container_volume_l",
    "pot_volume": "container_volume_l",
    "source_state": "brought_from",
    "bought_in": "brought_from",
    "from": "brought_from",
    "pond": "place",
    "pot": "holding",
    "container": "holding",
    "water_over_crown": "crown_depth_cm",
    "planting_depth": "crown_depth_cm",
}
_OUTCOME = re.compile(r"US(-[A-Z]{2})?(>US-[A-Z]{2})?:\w+")
_POSITIONS = ("longitude", "latitude", "site_longitude", "site_latitude")


def given_columns() -> Iterator[str]:
    """Every column that a plan may have, in order."""
    yield "label"
    yield from PLANTING
    yield GEOMETRY
    yield from PLANTING_DESIGN
    yield from (f"place_{name}" for name in (*PLACE, *PLACE_DESIGN, GEOMETRY))
    yield from (f"site_{name}" for name in (*SITE, GEOMETRY))
    yield from ("plan_title", "plan_date")


def column_of(heading: str) -> tuple[str, str]:
    """The column that a heading means, empty where it means none, and the unit that its cells are
    in where the heading says another than the column's.

    >>> column_of("Crown depth (in)"), column_of("Qty"), column_of("Price")
    (('crown_depth_cm', 'in'), ('count', ''), ('', ''))
    """
    found = re.fullmatch(r"\s*(.*?)\s*[\[(]\s*([^\])]+?)\s*[\])]\s*", heading)
    plain = _plain(found[1] if found else heading)
    known = {*given_columns(), *_POSITIONS}
    name = plain if plain in known else _SAME_AS.get(plain, "")
    if not name:
        stems = {column.removesuffix(f"_{unit_of(column)}"): column for column in known}
        name = stems.get(plain, "")
    if not name:
        name, unit = _with_unit(plain, known)
        return name, unit
    unit = found[2].casefold() if found else ""
    of_column = unit_of(name)
    return name, unit if of_column and unit and read_quantity(f"1 {unit}", of_column) else ""


def is_answer(heading: str) -> bool:
    """Whether a column is of an answer that is read again."""
    return _plain(heading) in (*ANSWERS, "passes", "held_back") or bool(
        _OUTCOME.fullmatch(heading.strip())
    )


def suggestion(heading: str) -> str:
    """The column that a heading most likely was meant to be."""
    near = near_miss(heading, [name for name in given_columns() if name != "label"])
    return f"Did you mean {near}?" if near else ""


def _with_unit(plain: str, known: set[str]) -> tuple[str, str]:
    """``crown_depth_in`` as the column with the unit at its end."""
    stem, _, unit = plain.rpartition("_")
    stems = {column.removesuffix(f"_{unit_of(column)}"): column for column in known}
    name = stems.get(stem, "")
    of_column = unit_of(name) if name else None
    if of_column is not None and unit in UNITS[of_column]:
        return name, unit
    return "", ""


def _plain(heading: str) -> str:
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", heading.strip())
    return re.sub(r"[\s_-]+", "_", apart.casefold()).strip("_")
