"""The rules that keep, set apart and pack records, as SQL that DuckDB runs and that sqlglot
translates for Spark.

It keeps to what both have: no row numbers of a file, no integer division, no function of one of
them alone. Only constants, column numbers and quoted literals go into the statements.

Tables, in the order in which they are made::

    staged   record_key, dataset, names, words, dates (cells that many rows share, joined),
             latitude, longitude, located, uncertainty_m, uncertain
    named, worded, dated, grouped_datasets    what Python makes of each distinct combination
    shifted  coordinates of old datums in WGS84;  tiles  points that stand for a place
    judged   a row each, with its reason or -1
"""

import re
from collections.abc import Mapping, Sequence

import duckdb

from data_loaders.darwin_core import cell_value
from data_loaders.delimited import wrong_width
from data_loaders.occurrences.places import EXACT_M, METRES_PER_DEGREE, TILES_PER_DEGREE
from data_loaders.occurrences.report import REASONS, QualityRules, Reason
from data_loaders.occurrences.terms import (
    LOCATION_TERMS,
    NAME_TERMS,
    SOUTHERNMOST_DEGREES,
    TERMS,
    US_BOX,
    WORD_TERMS,
)
from data_loaders.report import EXAMPLES as EXAMPLES_SHOWN
from data_loaders.report import OTHER_PLANTS
from service.errors import BadFile

UNIT = "\x1f"
_LARGEST = "1.7976931348623157e308"

GROUPS: dict[str, tuple[str, ...]] = {
    "dataset": ("datasetkey", "datasetid", "datasetname"),
    "names": NAME_TERMS,
    "words": WORD_TERMS,
    "dates": ("eventdate", "year"),
}
"""Cells that many rows share, joined into one column of ``staged`` each."""

STAGED_COLUMNS = {
    "record_key": "VARCHAR",
    **dict.fromkeys(GROUPS, "VARCHAR"),
    "latitude": "DOUBLE",
    "longitude": "DOUBLE",
    "located": "BOOLEAN",
    "uncertainty_m": "DOUBLE",
    "uncertain": "BOOLEAN",
}
JUDGED_ON: dict[str, dict[str, str]] = {
    "named": {
        "names": "VARCHAR",
        "loose": "BOOLEAN",
        "name": "VARCHAR",
        "plant": "VARCHAR",
        "name_reason": "INTEGER",
        "by_species": "BOOLEAN",
    },
    "worded": {
        "words": "VARCHAR",
        "word_reason": "INTEGER",
        "terms": "VARCHAR",
        **dict.fromkeys(("loose", "swapped", "flagged", "in_us", "cultivated"), "BOOLEAN"),
        "datum": "VARCHAR",
        "other_datum": "BOOLEAN",
        "least_uncertainty_m": "DOUBLE",
    },
    "dated": {"dates": "VARCHAR", "record_year": "INTEGER"},
    "grouped_datasets": {"dataset": "VARCHAR", "dataset_key": "VARCHAR"},
    "shifted": {
        "datum": "VARCHAR",
        "old_longitude": "DOUBLE",
        "old_latitude": "DOUBLE",
        "new_longitude": "DOUBLE",
        "new_latitude": "DOUBLE",
    },
}
"""The small tables that rows are joined to, and the kinds of their columns."""

KEPT_COLUMNS = (
    "reason",
    "record_key",
    "dataset_key",
    "plant",
    "terms",
    "longitude_e7",
    "latitude_e7",
    "uncertainty_m",
    "year",
    "by_species",
    "unreadable_uncertainty",
    "moved",
    "other_datum",
)

COUNTS = "SELECT reason, count(*) AS rows_found FROM judged GROUP BY reason ORDER BY reason"

EXAMPLES = f"""
SELECT reason, record_key FROM (
  SELECT reason, record_key, row_number() OVER (PARTITION BY reason ORDER BY record_key) AS place
  FROM judged WHERE reason >= 0
) AS numbered WHERE place <= {EXAMPLES_SHOWN} ORDER BY reason, place"""

OTHERS = f"""
SELECT name, count(*) AS rows_found FROM judged WHERE reason = {REASONS.index("not-of-store")}
GROUP BY name ORDER BY rows_found DESC, name LIMIT {OTHER_PLANTS}"""

KEPT = f"SELECT {', '.join(KEPT_COLUMNS)} FROM judged WHERE reason < 0"

OLD_DATUMS = """
SELECT DISTINCT datum, longitude, latitude FROM staged JOIN worded ON staged.words = worded.words
WHERE datum <> '' AND longitude IS NOT NULL AND latitude IS NOT NULL
ORDER BY datum, longitude, latitude"""


def tile_columns(most: int) -> dict[str, str]:
    """Columns of the table of tiles."""
    kinds = {"tile_column": "INTEGER", "tile_row": "INTEGER"}
    for number in range(most):
        kinds |= dict.fromkeys((f"x{number}", f"y{number}", f"across{number}"), "DOUBLE")
        kinds[f"within{number}"] = "DOUBLE"
    return kinds


def stage(
    raw: Mapping[str, str],
    source: str,
    defaults: Mapping[str, str],
    *,
    white_space: tuple[int, ...],
) -> str:
    """The rows of ``staged``.

    Args:
        raw: for each term that the table has an expression for its cell, never null and not yet
            trimmed.
        source: what stands after FROM.
        defaults: term to the value of its empty cells.
        white_space: code points that can be at the ends of a cell.

    Groups of cells are staged as they are; they are trimmed where each distinct combination is
    judged.
    """

    def group(terms: Sequence[str]) -> str:
        cells = [_raw_group_cell(term, raw[term], white_space) for term in terms if term in raw]
        return f"concat_ws(chr(31), {', '.join(cells)})" if len(cells) > 1 else (cells or ["''"])[0]

    def cell(term: str) -> str:
        default = literal(defaults.get(term, ""))
        return f"coalesce({_cell(raw[term], white_space)}, {default})" if term in raw else default

    every = ", ".join(cell(term) for term in TERMS)
    one_line = "replace({}, chr(10), ' ')" if 10 in white_space else "{}"
    occurrence, gbif = cell("occurrenceid"), cell("gbifid")
    latitude, longitude, uncertainty = (cell(term) for term in LOCATION_TERMS)
    groups = ", ".join(f"{group(terms)} AS {name}" for name, terms in GROUPS.items())
    return f"""
SELECT
  CASE WHEN {occurrence} <> '' THEN {one_line.format(occurrence)}
       WHEN {gbif} <> '' THEN {one_line.format(gbif)}
       ELSE 'row:' || md5(concat_ws(chr(31), {every})) END AS record_key,
  {groups},
  {_number(latitude)} AS latitude,
  {_number(longitude)} AS longitude,
  {latitude} <> '' AND {longitude} <> '' AS located,
  CASE WHEN {_number(uncertainty)} > 0 THEN {_number(uncertainty)} END AS uncertainty_m,
  {uncertainty} <> '' AS uncertain
FROM {source}"""


CORE_LEVELS = 8
"""Events above an event that it takes from: more than any archive has (common practice)."""


def core_rows(
    source: str,
    columns: Mapping[str, int],
    defaults: Mapping[str, str],
    *,
    id_column: int,
    parent: int | None,
) -> str:
    """Rows of a core by their ids, its empty cells empty text, or what is given for them."""
    cells = [
        f"coalesce(nullif(nullif(trim(c{place}), ''), '\\N'),"
        f" {literal(cell_value(defaults.get(term, '')))}) AS core_{term}"
        for term, place in columns.items()
    ]
    above = f"trim(c{parent})" if parent is not None else "''"
    named = [f"trim(c{id_column}) AS core_id", f"{above} AS parent_id", *cells]
    return f"SELECT {', '.join(named)} FROM {source}"


def core_once(source: str, terms: Sequence[str]) -> str:
    """One row an id, the same whatever the order in which they are read."""
    columns = ", ".join(("core_id", "parent_id", *(f"core_{term}" for term in terms)))
    return f"""
SELECT {columns} FROM (
  SELECT {columns}, row_number() OVER (PARTITION BY core_id ORDER BY {columns}) AS place
  FROM {source}
) AS numbered WHERE place = 1"""


def core_filled(source: str, terms: Sequence[str]) -> str:
    """Events whose empty cells are filled in from the event above them."""
    cells = ", ".join(
        f"coalesce(nullif(own.core_{term}, ''), above.core_{term}, '') AS core_{term}"
        for term in terms
    )
    return (
        f"SELECT own.core_id AS core_id, own.parent_id AS parent_id, {cells}"
        f" FROM {source} AS own LEFT JOIN {source} AS above"
        " ON own.parent_id = above.core_id AND own.parent_id <> own.core_id"
    )


def with_core(
    raw: Mapping[str, str], source: str, terms: Sequence[str], core_key: int
) -> tuple[dict[str, str], str]:
    """The cells of records whose empty ones the core fills in, and what they are read from.

    Args:
        raw, source: as ``stage`` takes them.
        core_key: column of the records that names the row of the core.
    """
    filled = dict(raw)
    for term in terms:
        own, of_core = raw.get(term), f"coalesce(core_{term}, '')"
        filled[term] = (
            f"CASE WHEN trim({own}) NOT IN ('', '\\N') THEN {own} ELSE {of_core} END"
            if own
            else of_core
        )
    return filled, f"{source} LEFT JOIN core ON core_id = trim(c{core_key})"


def judge(rules: QualityRules, most_points: int) -> str:
    """The rows of ``judged``."""
    west, south, east, north = US_BOX
    return f"""
WITH joined AS (
  SELECT staged.record_key, dataset_key, named.name, named.plant, name_reason, by_species,
         word_reason, terms, swapped, flagged, in_us, cultivated, other_datum, record_year,
         latitude, longitude, located, uncertain,
         CASE WHEN least_uncertainty_m > 0
              THEN greatest(coalesce(uncertainty_m, 0.0), least_uncertainty_m)
              ELSE uncertainty_m END AS uncertainty_m,
         new_longitude IS NOT NULL AS moved,
         coalesce(new_longitude, longitude) AS placed_longitude,
         coalesce(new_latitude, latitude) AS placed_latitude,
         latitude BETWEEN {west} AND {east} AND longitude BETWEEN {south} AND {north}
           AS swapped_fits,
         longitude BETWEEN {west} AND {east} AND latitude BETWEEN {south} AND {north} AS plain_fits
  FROM staged
  JOIN worded ON staged.words = worded.words
  JOIN named ON staged.names = named.names AND worded.loose = named.loose
  JOIN dated ON staged.dates = dated.dates
  JOIN grouped_datasets ON staged.dataset = grouped_datasets.dataset
  LEFT JOIN shifted ON worded.datum = shifted.datum AND longitude = old_longitude
    AND latitude = old_latitude
), near AS (
  SELECT joined.*, {_at_a_point(most_points)} AS at_a_point
  FROM joined LEFT JOIN tiles
    ON tile_column = CAST(floor({_sane("placed_longitude")} * {TILES_PER_DEGREE}.0) AS INTEGER)
    AND tile_row = CAST(floor({_sane("placed_latitude")} * {TILES_PER_DEGREE}.0) AS INTEGER)
), reasoned AS (
  SELECT near.*, CAST(CASE
    WHEN name_reason >= 0 THEN name_reason
    WHEN word_reason >= 0 THEN word_reason
    WHEN NOT located THEN {_code("no-coordinates")}
    WHEN latitude IS NULL OR longitude IS NULL THEN {_code("unreadable-coordinates")}
    WHEN latitude = 0.0 AND longitude = 0.0 THEN {_code("zero-coordinates")}
    WHEN swapped THEN {_code("swapped-coordinates")}
    WHEN abs(latitude) > 90.0 AND abs(latitude) <= 180.0 AND abs(longitude) <= 90.0
      THEN {_code("swapped-coordinates")}
    WHEN abs(latitude) <= 90.0 AND swapped_fits AND NOT plain_fits
      AND (in_us OR latitude <= {SOUTHERNMOST_DEGREES}) THEN {_code("swapped-coordinates")}
    WHEN abs(latitude) > 90.0 OR abs(longitude) > 180.0 THEN {_code("coordinates-out-of-range")}
    WHEN flagged THEN {_code("flagged-coordinates")}
    WHEN at_a_point THEN {_code("place-and-not-plant")}
    WHEN uncertainty_m > {float(rules.max_uncertainty_m)!r} THEN {_code("uncertainty-too-large")}
    WHEN cultivated THEN {_code("captive-or-cultivated")}
    ELSE -1 END AS INTEGER) AS reason
  FROM near
)
SELECT record_key, dataset_key, plant, terms, name, reason, uncertainty_m, record_year AS year,
       by_species, uncertain AND uncertainty_m IS NULL AS unreadable_uncertainty, moved,
       other_datum,
       CAST(CASE WHEN reason < 0 THEN floor(placed_longitude * 10000000.0 + 0.5) ELSE 0 END
         AS INTEGER) AS longitude_e7,
       CAST(CASE WHEN reason < 0 THEN floor(placed_latitude * 10000000.0 + 0.5) ELSE 0 END
         AS INTEGER) AS latitude_e7
FROM reasoned"""


def _sane(degrees: str) -> str:
    """Degrees that fit into an integer when multiplied: what is off the earth is set apart."""
    return f"CASE WHEN abs({degrees}) <= 360.0 THEN {degrees} END"


def _at_a_point(most: int) -> str:
    """Whether a row lies at a point that stands for a place: at it whatever it says, near it where
    it says nothing finer.
    """
    tests = []
    for number in range(most):
        across = f"((placed_longitude - x{number}) * across{number})"
        along = f"((placed_latitude - y{number}) * {METRES_PER_DEGREE})"
        square = f"({across} * {across} + {along} * {along})"
        vague = f"(uncertainty_m IS NULL OR uncertainty_m >= within{number})"
        near = f"{square} <= within{number} * within{number}"
        tests.append(f"({square} <= {EXACT_M * EXACT_M} OR ({vague} AND {near}))")
    # Few rows lie in a tile that has a point: the others are not measured.
    return f"CASE WHEN x0 IS NULL THEN FALSE ELSE coalesce({' OR '.join(tests)}, FALSE) END"


def bad_file(name: str, error: duckdb.Error) -> BadFile:
    """What DuckDB says of a table it cannot read, with the line."""
    text = str(error)
    line = re.search(r"Line: (\d+)", text)
    place = f"line {line[1]}" if line else ""
    width = re.search(r"Expected Number of Columns: (\d+) Found: (\d+)", text)
    if width:
        return BadFile(
            name,
            wrong_width(int(width[2]), int(width[1])),
            place=place,
            next_step="Mend that line, or fetch the file again; it may have been cut or joined.",
        )
    if "unicode" in text.lower() or "utf-8" in text.lower():
        return BadFile(
            name,
            "bytes that are not utf-8 text.",
            place=place,
            next_step="State the file's true encoding, or convert it to UTF-8.",
        )
    if "quote" in text.lower():
        return BadFile(name, "quoting that cannot be read.", place=place)
    return BadFile(name, f"it cannot be read ({text.strip().splitlines()[0]}).", place=place)


def _raw_group_cell(term: str, raw: str, white_space: tuple[int, ...]) -> str:
    """A cell cut to what decides, so that few combinations are distinct: a date to its month, a
    count to its sign.
    """
    if term == "individualcount":
        return f"CASE WHEN {raw} < '1' THEN {raw} ELSE '1' END"
    if term == "eventdate":
        blank = " OR ".join(f"contains(left({raw}, 7), chr({code}))" for code in white_space)
        return f"CASE WHEN contains({raw}, '/') OR {blank} THEN {raw} ELSE left({raw}, 7) END"
    return raw


def _cell(column: str, white_space: tuple[int, ...]) -> str:
    """``darwin_core.cell_value`` in SQL; null where it is empty. Trimming is dear, so it is done
    only where needed.

    Args:
        white_space: code points that can be at the ends of a cell.
    """
    spaces = " || ".join(f"chr({code})" for code in white_space)
    ragged = " OR ".join(
        [f"{column} < '!'", *(f"ends_with({column}, chr({code}))" for code in white_space)]
    )
    trimmed = _no_null_mark(f"trim({column}, {spaces})")
    return f"CASE WHEN {ragged} THEN {trimmed} ELSE {_no_null_mark(column)} END"


def _no_null_mark(cell: str) -> str:
    return f"CASE WHEN {cell} NOT IN ('', '\\N') THEN {cell} END"


def _number(cell: str) -> str:
    """A plain decimal number; null for anything else. A cast takes underscores, a letter for the
    kind of number, and words for infinity, which no table means.
    """
    cast = f"TRY_CAST({cell} AS DOUBLE)"
    odd = " OR ".join(
        (
            f"{cell} = ''",
            f"contains({cell}, '_')",
            f"contains({cell}, 'x')",
            f"right({cell}, 1) > '9'",
        )
    )
    return f"CASE WHEN {odd} THEN NULL WHEN abs({cast}) <= {_LARGEST} THEN {cast} END"


def _code(reason: Reason) -> int:
    return REASONS.index(reason)


def literal(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
