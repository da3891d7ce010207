"""The statements of the bulk path, built from the same constants as the rules of the small path.

Only constants, column numbers and quoted literals go into them.
"""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import duckdb

from data_loaders.archives import LIMITS
from data_loaders.delimited import wrong_width
from data_loaders.occurrences.report import REASONS, QualityRules, Reason
from data_loaders.occurrences.tables import RecordTable, parquet_columns
from data_loaders.occurrences.terms import (
    LOCATION_TERMS,
    NAME_TERMS,
    SOUTHERNMOST_DEGREES,
    TERMS,
    US_BOX,
    WORD_TERMS,
)
from service.errors import BadFile
from service.store.cells import CELL_E7, COLUMNS

UNIT = "\x1f"
_NEVER = "\ufdd0"  # a code point that no text may hold: no cell is read as null

GROUPS: dict[str, tuple[str, ...]] = {
    "dataset": ("datasetkey", "datasetid", "datasetname"),
    "names": NAME_TERMS,
    "words": WORD_TERMS,
    "dates": ("eventdate", "year"),
}
"""Cells that many rows share, joined into one column of ``staged`` each."""

CREATE_STAGED = """
CREATE TABLE staged (
  record_key VARCHAR, dataset VARCHAR, names VARCHAR, words VARCHAR, dates VARCHAR,
  latitude DOUBLE, longitude DOUBLE, located BOOLEAN, uncertainty_m DOUBLE, uncertain BOOLEAN
)"""

NAMED_COLUMNS = {
    "names": "VARCHAR",
    **{
        f"{way}_{column}": kind
        for way in ("strict", "loose")
        for column, kind in (
            ("plant", "INTEGER"),
            ("reason", "INTEGER"),
            ("by_species", "BOOLEAN"),
            ("name", "VARCHAR"),
        )
    },
}
WORDED_COLUMNS = {
    "words": "VARCHAR",
    "word_reason": "INTEGER",
    "terms": "INTEGER",
    **dict.fromkeys(("loose", "swapped", "flagged", "in_us", "held", "other_datum"), "BOOLEAN"),
}


def _create(table: str, columns: dict[str, str]) -> str:
    return f"CREATE TABLE {table} ({', '.join(f'{name} {kind}' for name, kind in columns.items())})"


CREATE_NAMED = _create("named", NAMED_COLUMNS)
CREATE_WORDED = _create("worded", WORDED_COLUMNS)
CREATE_DATED = _create("dated", {"dates": "VARCHAR", "record_year": "INTEGER"})
CREATE_DATASETS = _create("grouped_datasets", {"dataset": "VARCHAR", "dataset_place": "INTEGER"})
CREATE_HELD = _create("held", {"dataset_place": "INTEGER", "record_key": "VARCHAR"})

EXAMPLES = """
SELECT reason, record_key FROM judged WHERE reason >= 0
QUALIFY row_number() OVER (PARTITION BY reason ORDER BY place) <= ?
ORDER BY reason, place"""

OTHERS = """
SELECT name, count(*) AS rows FROM judged JOIN names_found USING (name_place) WHERE reason = ?
GROUP BY name ORDER BY rows DESC, name LIMIT ?"""

# Equal hashes are few; only rows that share one are compared in full.
CREATE_REPEATED = """
CREATE TABLE repeated AS
WITH suspects AS (
  SELECT hash(dataset_place, record_key) AS digest FROM judged WHERE reason < 0 GROUP BY digest HAVING count(*) > 1
)
SELECT place FROM judged SEMI JOIN suspects ON hash(dataset_place, record_key) = digest WHERE reason < 0
QUALIFY row_number() OVER (PARTITION BY dataset_place, record_key ORDER BY place) > 1"""

ADD_HELD = """
INSERT INTO repeated
SELECT place FROM judged
SEMI JOIN held ON held.record_key = judged.record_key AND held.dataset_place = judged.dataset_place
WHERE reason < 0"""

KEPT_ROWS = """
SELECT place, record_key, plant, dataset_place, terms, longitude_e7, latitude_e7, year,
       coalesce(uncertainty_m, 'nan'::DOUBLE) AS uncertainty_m
FROM judged WHERE rowid >= ? AND rowid < ? AND reason < 0 ORDER BY rowid"""

NOTES = """
SELECT coalesce(sum(by_species::INTEGER), 0), coalesce(sum((uncertain AND uncertainty_m IS NULL)::INTEGER), 0),
       coalesce(sum((year = 0)::INTEGER), 0), coalesce(sum(other_datum::INTEGER), 0)
FROM judged ANTI JOIN repeated USING (place) WHERE reason < 0"""


def stage_delimited(table: RecordTable, path: Path) -> str:
    """Read one text file into ``staged``."""
    assert table.width is not None
    dialect = table.dialect
    columns = ", ".join(f"'c{index}': 'VARCHAR'" for index in range(table.width))
    quote = _literal(dialect.quote)
    source = (
        f"read_csv({_literal(str(path))}, auto_detect = false, header = false, skip = {dialect.header_lines},"
        f" delim = {_literal(dialect.delimiter)}, quote = {quote}, escape = {quote}, strict_mode = true,"
        f" null_padding = false, max_line_size = {LIMITS.line_characters * 2}, nullstr = {_literal(_NEVER)},"
        f" columns = {{{columns}}})"
    )
    raw = {term: f"c{index}" for term, index in table.columns.items()}
    # Without quoting, a tab or a line end cannot stand in a cell.
    return _stage(raw, source, table, white_space=(32, 9, 13, 10) if dialect.quote else (32,))


def stage_parquet(table: RecordTable) -> str:
    """Read a Parquet file into ``staged``."""
    raw = dict(zip(TERMS, parquet_columns(table), strict=True))
    return _stage(
        raw, f"read_parquet({_literal(str(table.path))})", table, white_space=(32, 9, 13, 10)
    )


def count_parquet(table: RecordTable) -> str:
    """Rows of a Parquet file, from its footer."""
    return f"SELECT count(*) FROM read_parquet({_literal(str(table.path))})"


def judge_rows(rules: QualityRules) -> str:
    """Lay the rows of ``staged`` into ``judged``, in the order of their cells, each with its
    reason or -1.
    """
    west, south, east, north = US_BOX
    return f"""
CREATE TABLE names_found AS
  SELECT names, loose, (CASE WHEN loose THEN loose_name ELSE strict_name END) AS name,
         (CASE WHEN loose THEN loose_plant ELSE strict_plant END) AS plant,
         (CASE WHEN loose THEN loose_reason ELSE strict_reason END) AS name_reason,
         (CASE WHEN loose THEN loose_by_species ELSE strict_by_species END) AS by_species,
         row_number() OVER () AS name_place
  FROM named CROSS JOIN (VALUES (true), (false)) AS way(loose);
CREATE TABLE judged AS
WITH joined AS (
  SELECT staged.rowid AS place, staged.*, named.plant, named.name_reason, named.by_species, named.name_place,
         worded.* EXCLUDE (words), record_year, dataset_place,
         latitude BETWEEN {west} AND {east} AND longitude BETWEEN {south} AND {north} AS swapped_fits,
         longitude BETWEEN {west} AND {east} AND latitude BETWEEN {south} AND {north} AS plain_fits
  FROM staged
  JOIN worded ON staged.words = worded.words
  JOIN names_found AS named ON staged.names = named.names AND worded.loose = named.loose
  JOIN dated ON staged.dates = dated.dates
  JOIN grouped_datasets AS datasets ON staged.dataset = datasets.dataset
), reasoned AS (
  SELECT *, (CASE
    WHEN name_reason >= 0 THEN name_reason
    WHEN word_reason >= 0 THEN word_reason
    WHEN NOT located THEN {_code("no-coordinates")}
    WHEN latitude IS NULL OR longitude IS NULL THEN {_code("unreadable-coordinates")}
    WHEN latitude = 0 AND longitude = 0 THEN {_code("zero-coordinates")}
    WHEN swapped THEN {_code("swapped-coordinates")}
    WHEN abs(latitude) > 90 AND abs(latitude) <= 180 AND abs(longitude) <= 90 THEN {_code("swapped-coordinates")}
    WHEN abs(latitude) <= 90 AND swapped_fits AND NOT plain_fits AND (in_us OR latitude <= {SOUTHERNMOST_DEGREES})
      THEN {_code("swapped-coordinates")}
    WHEN abs(latitude) > 90 OR abs(longitude) > 180 THEN {_code("coordinates-out-of-range")}
    WHEN flagged THEN {_code("flagged-coordinates")}
    WHEN uncertainty_m > {rules.max_uncertainty_m!r} THEN {_code("uncertainty-too-large")}
    WHEN held THEN {_code("captive-or-cultivated")}
    ELSE -1 END)::INTEGER AS reason
  FROM joined
), placed AS (
  SELECT *, (CASE WHEN reason < 0 THEN floor(longitude * 1e7 + 0.5) ELSE 0 END)::INTEGER AS longitude_e7,
            (CASE WHEN reason < 0 THEN floor(latitude * 1e7 + 0.5) ELSE 0 END)::INTEGER AS latitude_e7
  FROM reasoned
)
SELECT place, record_key, dataset_place, plant, terms, name_place, by_species, reason,
       longitude_e7, latitude_e7, uncertainty_m, uncertain, other_datum, record_year AS year
FROM placed
ORDER BY (latitude_e7::BIGINT + 900000000) // {CELL_E7} * {COLUMNS}
  + least((longitude_e7::BIGINT + 1800000000) // {CELL_E7}, {COLUMNS - 1}), place"""


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


def _stage(
    raw: Mapping[str, str], source: str, table: RecordTable, *, white_space: tuple[int, ...]
) -> str:
    """``raw`` gives an expression for the cell of each term that the table has, never null and not
    yet trimmed.

    Groups of cells are staged as they stand; they are trimmed where each distinct combination is
    judged.
    """

    def group(terms: Sequence[str]) -> str:
        cells = [
            _raw_group_cell(term, raw[term], white_space) for term in terms if term in table.columns
        ]
        return f"concat_ws(chr(31), {', '.join(cells)})" if len(cells) > 1 else (cells or ["''"])[0]

    def cell(term: str) -> str:
        default = _literal(table.defaults.get(term, ""))
        return (
            f"coalesce({_cell(raw[term], white_space)}, {default})"
            if term in table.columns
            else default
        )

    every = ", ".join(cell(term) for term in TERMS)
    one_line = "replace({}, chr(10), ' ')" if 10 in white_space else "{}"
    occurrence, gbif = cell("occurrenceid"), cell("gbifid")
    latitude, longitude, uncertainty = (cell(term) for term in LOCATION_TERMS)
    return f"""
INSERT INTO staged
SELECT
  CASE WHEN {occurrence} <> '' THEN {one_line.format(occurrence)}
       WHEN {gbif} <> '' THEN {one_line.format(gbif)}
       ELSE 'row:' || md5(concat_ws(chr(31), {every})) END,
  {", ".join(group(terms) for terms in GROUPS.values())},
  {_number(latitude)},
  {_number(longitude)},
  {latitude} <> '' AND {longitude} <> '',
  CASE WHEN {_number(uncertainty)} > 0 THEN {_number(uncertainty)} END,
  {uncertainty} <> ''
FROM {source}"""


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
        white_space: code points that can stand at the ends of a cell.
    """
    spaces = " || ".join(f"chr({code})" for code in white_space)
    ragged = " OR ".join(
        [f"{column} < '!'", *(f"ends_with({column}, chr({code}))" for code in white_space)]
    )
    return f"CASE WHEN {ragged} THEN {_no_null_mark(f'trim({column}, {spaces})')} ELSE {_no_null_mark(column)} END"


def _no_null_mark(cell: str) -> str:
    return f"CASE WHEN {cell} NOT IN ('', '\\N') THEN {cell} END"


def _number(cell: str) -> str:
    """``quality.number`` in SQL: a cast takes underscores and words for infinity, which no table
    means.
    """
    cast = f"TRY_CAST({cell} AS DOUBLE)"
    return f"CASE WHEN {cell} = '' OR contains({cell}, '_') THEN NULL WHEN isfinite({cast}) THEN {cast} END"


def _code(reason: Reason) -> int:
    return REASONS.index(reason)


def _literal(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
