"""What Python makes of each distinct combination of cells: the same for every engine.

An engine gives the distinct combinations of a group of columns, as they were staged, and takes back
a small table to join its rows to.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from data_loaders.darwin_core import cell_value
from data_loaders.occurrences.datums import to_wgs84
from data_loaders.occurrences.names import ExactMatcher, resolve
from data_loaders.occurrences.quality import (
    Row,
    dataset_key,
    name_cells,
    read_words,
    record_year,
    word_cells,
)
from data_loaders.occurrences.report import REASONS
from data_loaders.occurrences.rules import GROUPS, JUDGED_ON, UNIT
from data_loaders.occurrences.terms import TERM_INDEX, TERMS
from service.errors import BadFile

Columns = dict[str, list[object]]
"""Column to values, all of one length."""

TABLE_OF = {"names": "named", "words": "worded", "dates": "dated", "dataset": "grouped_datasets"}


@dataclass(frozen=True, slots=True)
class Distinct:
    """How combinations of cells are read back.

    Attributes:
        terms: that the table has as columns.
        defaults: term to the value of its empty cells.
        file: for messages.
    """

    matcher: ExactMatcher
    terms: frozenset[str]
    defaults: Mapping[str, str]
    fallback_dataset: str
    file: str

    def judged(self, group: str, combinations: Sequence[str]) -> Columns:
        """Rows of the table that goes with a group.

        Raises:
            BadFile: a cell holds the sign that joins cells.
        """
        columns: Columns = {name: [] for name in JUDGED_ON[TABLE_OF[group]]}
        add = {
            "names": self._add_names,
            "words": _add_words,
            "dates": _add_dates,
            "dataset": self._add_dataset,
        }[group]
        for joined in combinations:
            add(columns, joined, self._row(group, joined))
        return columns

    def _row(self, group: str, joined: str) -> Row:
        row = [""] * len(TERMS)
        present = [term for term in GROUPS[group] if term in self.terms]
        cells = joined.split(UNIT) if present else []
        if len(cells) != len(present):
            raise BadFile(
                self.file,
                "a control character (unit separator) in a cell.",
                place=repr(joined[:80]),
            )
        for term in GROUPS[group]:
            row[TERM_INDEX[term]] = self.defaults.get(term, "")
        for term, cell in zip(present, cells, strict=True):
            row[TERM_INDEX[term]] = cell_value(cell) or self.defaults.get(term, "")
        return row

    def _add_names(self, columns: Columns, joined: str, row: Row) -> None:
        for loose in (False, True):
            named = resolve(name_cells(row), self.matcher, loose=loose)
            columns["names"].append(joined)
            columns["loose"].append(loose)
            columns["name"].append(named.name)
            columns["plant"].append(named.plant_id or "")
            columns["name_reason"].append(REASONS.index(named.reason) if named.reason else -1)
            columns["by_species"].append(named.by_species_column)

    def _add_dataset(self, columns: Columns, joined: str, row: Row) -> None:
        columns["dataset"].append(joined)
        columns["dataset_key"].append(dataset_key(row) or self.fallback_dataset)


def _add_words(columns: Columns, joined: str, row: Row) -> None:
    cells = word_cells(row)
    words = read_words(cells)
    columns["words"].append(joined)
    columns["word_reason"].append(REASONS.index(words.reason) if words.reason else -1)
    columns["terms"].append(
        UNIT.join(
            (
                cells.licence,
                cells.basis_of_record,
                cells.establishment_means,
                cells.degree_of_establishment,
            )
        )
    )
    for name in (
        *("loose", "swapped", "flagged", "in_us", "cultivated"),
        *("datum", "other_datum", "least_uncertainty_m"),
    ):
        columns[name].append(getattr(words, name))


def _add_dates(columns: Columns, joined: str, row: Row) -> None:
    columns["dates"].append(joined)
    columns["record_year"].append(record_year(row) or 0)


def shifted(places: Iterable[tuple[str, float, float]]) -> Columns:
    """Places of old datums with where they are in WGS84.

    Args:
        places: datum, longitude, latitude; those of one datum one after the other.
    """
    by_datum: dict[str, list[tuple[float, float]]] = {}
    for datum, longitude, latitude in places:
        by_datum.setdefault(datum, []).append((longitude, latitude))
    columns: Columns = {name: [] for name in JUDGED_ON["shifted"]}
    for datum, some in by_datum.items():
        longitudes, latitudes = zip(*some, strict=True)
        new_longitudes, new_latitudes = to_wgs84(datum, longitudes, latitudes)
        columns["datum"] += [datum] * len(some)
        columns["old_longitude"] += longitudes
        columns["old_latitude"] += latitudes
        columns["new_longitude"] += new_longitudes.tolist()
        columns["new_latitude"] += new_latitudes.tolist()
    return columns
