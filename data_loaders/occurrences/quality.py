"""The quality rules.

Rules about words (names, vocabularies, dates) are functions of a few cells that many rows share;
both paths call them. Rules about numbers stand here for one row and in ``bulk`` for whole tables; a
test holds the two equal.
"""

import hashlib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from data_loaders.occurrences.dates import year_of
from data_loaders.occurrences.names import ExactMatcher, NameCells, resolve
from data_loaders.occurrences.report import QualityRules, Reason, Remark
from data_loaders.occurrences.terms import (
    ABSENT_WORDS,
    COUNT_ZERO_PATTERN,
    GEOSPATIAL_ISSUES,
    HELD_DEGREES,
    HELD_MEANS,
    LOOSE_NAME_ISSUES,
    NAME_TERMS,
    NEAR_WGS84_WORDS,
    NOT_WILD_BASES,
    NUMBER_PATTERN,
    PRESENT_WORDS,
    SOUTHERNMOST_DEGREES,
    SWAPPED_ISSUE,
    TERM_INDEX,
    UNITED_STATES,
    US_BOX,
    collapse,
    issue_pattern,
)
from service.values.vocabulary import PlantId

_NUMBER = re.compile(NUMBER_PATTERN)
_ZERO_COUNT = re.compile(COUNT_ZERO_PATTERN)
_FLAGGED = re.compile(issue_pattern(GEOSPATIAL_ISSUES))
_SWAPPED = re.compile(issue_pattern((SWAPPED_ISSUE,)))
_LOOSE = re.compile(issue_pattern(LOOSE_NAME_ISSUES))
_UNIT = "\x1f"
_AT = TERM_INDEX

Row = Sequence[str]
"""Values in the order of ``terms.TERMS``, white space taken off, empty where there is none."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A record that goes into the store."""

    dataset_key: str
    record_key: str
    plant_id: PlantId
    longitude_e7: int
    latitude_e7: int
    uncertainty_m: float | None
    year: int | None
    licence: str
    basis_of_record: str
    establishment_means: str
    degree_of_establishment: str


@dataclass(frozen=True, slots=True)
class Judged:
    """One row after the rules. Exactly one of ``kept`` and ``reason`` is set."""

    kept: Kept | None
    reason: Reason | None
    record_key: str
    name: str
    notes: tuple[Remark, ...] = ()


class WordCells(NamedTuple):
    """The vocabulary cells of a row. ``none_counted``: its individualCount is zero."""

    basis_of_record: str
    occurrence_status: str
    none_counted: bool
    establishment_means: str
    degree_of_establishment: str
    country_code: str
    geodetic_datum: str
    licence: str
    issue: str


class Words(NamedTuple):
    """What the vocabulary cells of a row say.

    Attributes:
        reason: the one that sets the row apart before its coordinates are looked at.
        loose: the publisher matched the name loosely.
        held: planted or kept.
        other_datum: coordinates in a datum that is not near WGS84, or in none that is known.
    """

    reason: Reason | None
    loose: bool
    swapped: bool
    flagged: bool
    in_us: bool
    held: bool
    other_datum: bool


def judge(row: Row, matcher: ExactMatcher, rules: QualityRules, *, fallback_dataset: str) -> Judged:
    """Keep a row or set it apart for the first reason of ``REASONS`` that fits (duplicates are
    found later).
    """
    words = read_words(word_cells(row))
    named = resolve(name_cells(row), matcher, loose=words.loose)
    key = record_key(row)
    latitude, longitude = number(row[_AT["decimallatitude"]]), number(row[_AT["decimallongitude"]])
    uncertainty_m = _uncertainty_m(row)
    reason = (
        named.reason
        or words.reason
        or _coordinate_reason(row, latitude, longitude, words)
        or _last_reason(uncertainty_m, words, rules)
    )
    if reason is not None or named.plant_id is None or latitude is None or longitude is None:
        return Judged(None, reason, key, named.name)
    year = record_year(row)
    notes: list[Remark] = []
    if named.by_species_column:
        notes.append("matched-by-species-column")
    if uncertainty_m is None and row[_AT["coordinateuncertaintyinmeters"]]:
        notes.append("uncertainty-unreadable")
    if year is None:
        notes.append("year-unknown")
    if words.other_datum:
        notes.append("other-datum")
    kept = Kept(
        dataset_key=dataset_key(row) or fallback_dataset,
        record_key=key,
        plant_id=named.plant_id,
        longitude_e7=to_e7(longitude),
        latitude_e7=to_e7(latitude),
        uncertainty_m=uncertainty_m,
        year=year,
        licence=row[_AT["license"]],
        basis_of_record=row[_AT["basisofrecord"]],
        establishment_means=row[_AT["establishmentmeans"]],
        degree_of_establishment=row[_AT["degreeofestablishment"]],
    )
    return Judged(kept, None, key, named.name, tuple(notes))


def dataset_key(row: Row) -> str:
    """The data set a row says it belongs to."""
    return row[_AT["datasetkey"]] or row[_AT["datasetid"]] or row[_AT["datasetname"]]


def record_key(row: Row) -> str:
    """occurrenceID, else gbifID, else a hash of every term that is read. Never holds a line end."""
    own = row[_AT["occurrenceid"]] or row[_AT["gbifid"]]
    if own:
        return own.replace("\n", " ")
    return "row:" + hashlib.md5(_UNIT.join(row).encode(), usedforsecurity=False).hexdigest()


def record_year(row: Row) -> int | None:
    """Calendar year of a row, as ``dates.year_of``."""
    return year_of(row[_AT["eventdate"]], row[_AT["year"]])


def to_e7(degrees: float) -> int:
    """Degrees to ten-millionths, half up."""
    return math.floor(degrees * 1e7 + 0.5)


def number(written: str) -> float | None:
    """A plain decimal number; None for anything else, a decimal comma among it."""
    if not _NUMBER.fullmatch(written):
        return None
    value = float(written)
    return value if math.isfinite(value) else None


def name_cells(row: Row) -> NameCells:
    """The name cells of a row."""
    return NameCells._make(row[_AT[term]] for term in NAME_TERMS)


def word_cells(row: Row) -> WordCells:
    """The vocabulary cells of a row."""
    return WordCells(
        basis_of_record=row[_AT["basisofrecord"]],
        occurrence_status=row[_AT["occurrencestatus"]],
        none_counted=bool(_ZERO_COUNT.fullmatch(row[_AT["individualcount"]])),
        establishment_means=row[_AT["establishmentmeans"]],
        degree_of_establishment=row[_AT["degreeofestablishment"]],
        country_code=row[_AT["countrycode"]],
        geodetic_datum=row[_AT["geodeticdatum"]],
        licence=row[_AT["license"]],
        issue=row[_AT["issue"]],
    )


@lru_cache(maxsize=50_000)
def read_words(cells: WordCells) -> Words:
    """What the vocabulary cells say."""
    issues = cells.issue.upper()
    degree, means = collapse(cells.degree_of_establishment), collapse(cells.establishment_means)
    return Words(
        reason=_word_reason(cells),
        loose=bool(_LOOSE.search(issues)),
        swapped=bool(_SWAPPED.search(issues)),
        flagged=bool(_FLAGGED.search(issues)),
        in_us=cells.country_code.upper() == UNITED_STATES,
        held=degree.startswith(HELD_DEGREES) or means in HELD_MEANS,
        other_datum=collapse(cells.geodetic_datum) not in NEAR_WGS84_WORDS,
    )


def _word_reason(cells: WordCells) -> Reason | None:
    if collapse(cells.basis_of_record) in NOT_WILD_BASES:
        return "fossil-or-living-collection"
    status = collapse(cells.occurrence_status)
    if status in ABSENT_WORDS or (status == "" and cells.none_counted):
        return "absent"
    if status not in PRESENT_WORDS or cells.none_counted:
        return "unreadable-status"
    return None


def _coordinate_reason(
    row: Row, latitude: float | None, longitude: float | None, words: Words
) -> Reason | None:
    if not (row[_AT["decimallatitude"]] and row[_AT["decimallongitude"]]):
        return "no-coordinates"
    if latitude is None or longitude is None:
        return "unreadable-coordinates"
    if latitude == 0 and longitude == 0:
        return "zero-coordinates"
    if words.swapped or _is_swapped(latitude, longitude, words.in_us):
        return "swapped-coordinates"
    if abs(latitude) > 90 or abs(longitude) > 180:
        return "coordinates-out-of-range"
    return "flagged-coordinates" if words.flagged else None


def _is_swapped(latitude: float, longitude: float, in_us: bool) -> bool:
    if abs(latitude) > 90:
        return abs(latitude) <= 180 and abs(longitude) <= 90
    west, south, east, north = US_BOX
    swapped_fits = west <= latitude <= east and south <= longitude <= north
    plain_fits = west <= longitude <= east and south <= latitude <= north
    return swapped_fits and not plain_fits and (in_us or latitude <= SOUTHERNMOST_DEGREES)


def _last_reason(uncertainty_m: float | None, words: Words, rules: QualityRules) -> Reason | None:
    if uncertainty_m is not None and uncertainty_m > rules.max_uncertainty_m:
        return "uncertainty-too-large"
    return "captive-or-cultivated" if words.held else None


def _uncertainty_m(row: Row) -> float | None:
    """Radius in metres; zero is not a valid one, so it is as good as none."""
    value = number(row[_AT["coordinateuncertaintyinmeters"]])
    return value if value is not None and value > 0 else None
