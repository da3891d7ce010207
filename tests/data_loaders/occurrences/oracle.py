"""The quality rules once more, row by row in plain Python, to hold the SQL against."""

import hashlib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from data_loaders.occurrences.datums import to_wgs84
from data_loaders.occurrences.names import ExactMatcher, resolve
from data_loaders.occurrences.quality import (
    Row,
    Words,
    dataset_key,
    name_cells,
    read_words,
    record_year,
    word_cells,
)
from data_loaders.occurrences.report import QualityRules, Reason, Remark
from data_loaders.occurrences.terms import (
    NUMBER_PATTERN,
    SOUTHERNMOST_DEGREES,
    TERM_INDEX,
    US_BOX,
)

_NUMBER = re.compile(NUMBER_PATTERN)
_AT = TERM_INDEX


@dataclass(frozen=True, slots=True)
class Kept:
    """A record that goes into the store."""

    dataset_key: str
    record_key: str
    plant_id: str
    longitude_e7: int
    latitude_e7: int
    uncertainty_m: float | None
    year: int
    terms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Judged:
    """One row after the rules. Exactly one of ``kept`` and ``reason`` is set."""

    kept: Kept | None
    reason: Reason | None
    remarks: tuple[Remark, ...] = ()


def judge(
    row: Row,
    matcher: ExactMatcher,
    rules: QualityRules,
    *,
    fallback_dataset: str,
    points: Sequence[tuple[float, float, float]] = (),
) -> Judged:
    """Keep a row or set it apart for the first reason that fits (duplicates are found later).

    Args:
        points: longitude, latitude and reach in metres of places.
    """
    words = read_words(word_cells(row))
    named = resolve(name_cells(row), matcher, loose=words.loose)
    latitude, longitude = number(row[_AT["decimallatitude"]]), number(row[_AT["decimallongitude"]])
    stated = number(row[_AT["coordinateuncertaintyinmeters"]])
    uncertainty_m = stated if stated is not None and stated > 0 else None
    if words.least_uncertainty_m:
        uncertainty_m = max(uncertainty_m or 0.0, words.least_uncertainty_m)
    placed = longitude, latitude
    if words.datum and longitude is not None and latitude is not None:
        east, north = to_wgs84(words.datum, [longitude], [latitude])
        placed = float(east[0]), float(north[0])
    reason = (
        named.reason
        or words.reason
        or _coordinate_reason(row, latitude, longitude, words)
        or _last_reason(placed, uncertainty_m, words, rules, points)
    )
    if reason is not None or named.plant_id is None or placed[0] is None or placed[1] is None:
        return Judged(None, reason)
    year = record_year(row)
    flags: dict[Remark, bool] = {
        "matched-by-species-column": named.by_species_column,
        "uncertainty-unreadable": uncertainty_m is None
        and bool(row[_AT["coordinateuncertaintyinmeters"]]),
        "year-unknown": year is None,
        "datum-moved": bool(words.datum),
        "other-datum": words.other_datum,
    }
    kept = Kept(
        dataset_key=dataset_key(row) or fallback_dataset,
        record_key=record_key(row),
        plant_id=named.plant_id,
        longitude_e7=math.floor(placed[0] * 1e7 + 0.5),
        latitude_e7=math.floor(placed[1] * 1e7 + 0.5),
        uncertainty_m=uncertainty_m,
        year=year or 0,
        terms=tuple(
            row[_AT[term]]
            for term in (
                *("license", "basisofrecord"),
                *("establishmentmeans", "degreeofestablishment"),
            )
        ),
    )
    return Judged(kept, None, tuple(remark for remark, holds in flags.items() if holds))


def record_key(row: Row) -> str:
    """occurrenceID, else gbifID, else a hash of every term that is read."""
    own = row[_AT["occurrenceid"]] or row[_AT["gbifid"]]
    if own:
        return own.replace("\n", " ")
    return "row:" + hashlib.md5("\x1f".join(row).encode(), usedforsecurity=False).hexdigest()


def number(written: str) -> float | None:
    """A plain decimal number; None for anything else, a decimal comma among it."""
    if not _NUMBER.fullmatch(written):
        return None
    value = float(written)
    return value if math.isfinite(value) else None


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


def _last_reason(
    placed: tuple[float | None, float | None],
    uncertainty_m: float | None,
    words: Words,
    rules: QualityRules,
    points: Sequence[tuple[float, float, float]],
) -> Reason | None:
    for longitude, latitude, within_m in points:
        assert placed[0] is not None
        assert placed[1] is not None
        across = (placed[0] - longitude) * 111_200 * math.cos(math.radians(latitude))
        away = math.hypot(across, (placed[1] - latitude) * 111_200)
        vague = uncertainty_m is None or uncertainty_m >= within_m
        if away <= 15 or (vague and away <= within_m):
            return "place-and-not-plant"
    if uncertainty_m is not None and uncertainty_m > rules.max_uncertainty_m:
        return "uncertainty-too-large"
    return "captive-or-cultivated" if words.cultivated else None
