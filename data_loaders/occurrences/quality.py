"""The quality rules about words: names, vocabularies, dates, data sets.

They are functions of a few cells that many rows share, so that each distinct combination is judged
once. The rules about numbers are SQL, in ``rules``.
"""

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from data_loaders.occurrences.dates import year_of
from data_loaders.occurrences.datums import datum_of
from data_loaders.occurrences.names import NameCells
from data_loaders.occurrences.report import Reason
from data_loaders.occurrences.terms import (
    ABSENT_WORDS,
    COUNT_ZERO_PATTERN,
    CULTIVATED_DEGREES,
    CULTIVATED_MEANS,
    GEOSPATIAL_ISSUES,
    HIDDEN_WORDS,
    LOOSE_NAME_ISSUES,
    NAME_TERMS,
    NOT_WILD_BASES,
    OBSCURED_M,
    PRESENT_WORDS,
    SWAPPED_ISSUE,
    TERM_INDEX,
    UNITED_STATES,
    YES_WORDS,
    collapse,
    issue_pattern,
)

_ZERO_COUNT = re.compile(COUNT_ZERO_PATTERN)
_FLAGGED = re.compile(issue_pattern(GEOSPATIAL_ISSUES))
_SWAPPED = re.compile(issue_pattern((SWAPPED_ISSUE,)))
_LOOSE = re.compile(issue_pattern(LOOSE_NAME_ISSUES))
_AT = TERM_INDEX

Row = Sequence[str]
"""Values in the order of ``terms.TERMS``, white space taken off, empty where there is none."""


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
    captive: str
    obscured: str
    taxon_geoprivacy: str
    geoprivacy: str


class Words(NamedTuple):
    """What the vocabulary cells of a row say.

    Attributes:
        reason: the one that sets the row apart before its coordinates are looked at.
        loose: the publisher matched the name loosely.
        cultivated: planted or kept.
        datum: code of the datum from which the coordinates are brought to WGS84, empty for none.
        other_datum: coordinates in a datum that is not known.
        least_uncertainty_m: of coordinates that the publisher blurred, else 0.
    """

    reason: Reason | None
    loose: bool
    swapped: bool
    flagged: bool
    in_us: bool
    cultivated: bool
    datum: str
    other_datum: bool
    least_uncertainty_m: float


def dataset_key(row: Row) -> str:
    """The data set a row says it belongs to."""
    return row[_AT["datasetkey"]] or row[_AT["datasetid"]] or row[_AT["datasetname"]]


def record_year(row: Row) -> int | None:
    """Calendar year of a row, as ``dates.year_of``."""
    return year_of(row[_AT["eventdate"]], row[_AT["year"]])


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
        captive=row[_AT["captivecultivated"]],
        obscured=row[_AT["coordinatesobscured"]],
        taxon_geoprivacy=row[_AT["taxongeoprivacy"]],
        geoprivacy=row[_AT["geoprivacy"]],
    )


@lru_cache(maxsize=50_000)
def read_words(cells: WordCells) -> Words:
    """What the vocabulary cells say."""
    issues = cells.issue.upper()
    degree, means = collapse(cells.degree_of_establishment), collapse(cells.establishment_means)
    datum = datum_of(cells.geodetic_datum)
    return Words(
        reason=_word_reason(cells),
        loose=bool(_LOOSE.search(issues)),
        swapped=bool(_SWAPPED.search(issues)),
        flagged=bool(_FLAGGED.search(issues)),
        in_us=cells.country_code.upper() == UNITED_STATES,
        cultivated=degree.startswith(CULTIVATED_DEGREES)
        or means in CULTIVATED_MEANS
        or cells.captive.lower() in YES_WORDS,
        datum=datum or "",
        other_datum=datum is None,
        least_uncertainty_m=OBSCURED_M if _is_obscured(cells) else 0.0,
    )


def _is_obscured(cells: WordCells) -> bool:
    hidden = {cells.taxon_geoprivacy.lower(), cells.geoprivacy.lower()}
    return cells.obscured.lower() in YES_WORDS or bool(hidden & set(HIDDEN_WORDS))


def _word_reason(cells: WordCells) -> Reason | None:
    if collapse(cells.basis_of_record) in NOT_WILD_BASES:
        return "fossil-or-living-collection"
    status = collapse(cells.occurrence_status)
    if status in ABSENT_WORDS or (status == "" and cells.none_counted):
        return "absent"
    if status not in PRESENT_WORDS or cells.none_counted:
        return "unreadable-status"
    return None
