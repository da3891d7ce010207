"""The rules in SQL and the same rules in plain Python keep the same records and count the same
flaws, whatever the cells hold.
"""

import math
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from data_loaders.darwin_core import cell_value
from data_loaders.occurrences import QualityRules, StoreNames, load_occurrences
from data_loaders.occurrences.terms import TERM_INDEX, TERMS
from data_loaders.report import NothingKept
from service.store.database import Build
from tests.data_loaders.occurrences.files import Cells, record, write_csv, write_parquet, write_tsv
from tests.data_loaders.occurrences.oracle import judge
from tests.data_loaders.occurrences.stores import make_store
from tests.records import records_within

Record = tuple[object, ...]
Writer = Callable[[Path, Sequence[Cells]], Path]

CELLS = {
    "gbifID": ["9000001", "", "9000002"],
    "datasetKey": ["one", "two", "", " one "],
    "occurrenceID": ["a", "b", "", "\\N", "c d"],
    "scientificName": ["Nymphaea odorata Aiton", "Typha x glauca", "Quercus alba", "", "NYMPHAEA ODORATA"],
    "species": ["Nymphaea odorata", "", "Quercus alba", "Cabomba caroliniana"],
    "verbatimScientificName": ["Eichhornia crassipes", "", "?"],
    "countryCode": ["US", "us", "", "CA"],
    "geodeticDatum": ["", "WGS84", "EPSG:4326", "NAD27", "http://www.opengis.net/def/crs/EPSG/0/4267", "not recorded"],
    "occurrenceStatus": ["PRESENT", "absent", "", "detected", "notDetected", "Not detected", "perhaps"],
    "individualCount": ["", "0", "00", "0.0", "3", "0x"],
    "decimalLatitude": ["41.5", "", "0", "-0.0", "90", "90.0000001", "41,5", "-83.2", " 41.25 ", "4_1", "1e1", "nan", "+.5"],
    "decimalLongitude": ["-83.2", "", "0", "180", "-180", "181", "41.5", "-83.20000005", "1e400", "inf", "\\N"],
    "coordinateUncertaintyInMeters": ["", "30", "0", "-5", "100000", "100000.5", "1.000,5", "1e-3", "30 m"],
    "eventDate": ["2021-07-04", "", "1998/2003", "2020-01-02T03:04:05Z/2020-05-06", "1871", "8/3/1963", "2021-7-4", "1/2021"],
    "year": ["2021", "", "1998", "21", "2021.0", "3000"],
    "basisOfRecord": ["HUMAN_OBSERVATION", "FossilSpecimen", "living specimen", ""],
    "license": ["CC0_1_0", "http://creativecommons.org/licenses/by/4.0/legalcode", ""],
    "establishmentMeans": ["", "introduced", "MANAGED", "http://example.org/values/e003"],
    "degreeOfEstablishment": ["", "Cultivated (category B2)", "invasive", "d002/", "escaped/cultivated"],
    "issue": ["", "ZERO_COORDINATE", "presumed_swapped_coordinate", "TAXON_MATCH_FUZZY;COORDINATE_ROUNDED", "XZERO_COORDINATE"],
}  # fmt: skip

a_cell = st.sampled_from(sorted(CELLS)).flatmap(
    lambda term: st.tuples(st.just(term), st.sampled_from(CELLS[term]))
)
some_records = st.lists(st.lists(a_cell, max_size=3).map(dict), min_size=1, max_size=60)
"""Good records, each with up to three odd cells."""


def expected(records: list[Cells], store: Path) -> tuple[Counter[str], Counter[str], set[Record]]:
    """Rows set apart, remarks, and the records kept, by the rules in plain Python."""
    build = Build(store)
    matcher = StoreNames(build.connection)
    apart: Counter[str] = Counter()
    kept: dict[tuple[str, str], list[tuple[Record, tuple[str, ...]]]] = {}
    for cells in records:
        row = [""] * len(TERMS)
        for term, value in cells.items():
            if term.lower() in TERM_INDEX:
                row[TERM_INDEX[term.lower()]] = cell_value(value)
        judged = judge(row, matcher, QualityRules(), fallback_dataset="records")
        if judged.reason is not None:
            apart[judged.reason] += 1
        if judged.kept is not None:
            one = judged.kept
            record = (
                *(one.dataset_key, one.record_key, one.plant_id),
                *(one.longitude_e7, one.latitude_e7, one.uncertainty_m, one.year, *one.terms),
            )
            key = (one.dataset_key, one.record_key)
            kept.setdefault(key, []).append((record, judged.remarks))
    build.close()
    repeats = sum(len(some) - 1 for some in kept.values())
    if repeats:
        apart["duplicate"] = repeats
    first = [min(some, key=_content) for some in kept.values()]
    remarks = Counter(remark for _, some in first for remark in some)
    return apart, remarks, {record for record, _ in first}


def _content(judged: tuple[Record, tuple[str, ...]]) -> tuple[object, ...]:
    """The order in which one of several rows with one key is chosen; no uncertainty comes last."""
    _, _, plant, longitude, latitude, uncertainty_m, year, *terms = judged[0]
    vague = math.inf if uncertainty_m is None else uncertainty_m
    return longitude, latitude, year, vague, plant, "\x1f".join(map(str, terms))


def stored(store: Path) -> set[Record]:
    """The records of a store, read from its blocks."""
    build = Build(store)
    found = records_within(build.connection, 0.0, 0.0, 21_000_000.0, limit=1_000_000)
    build.close()
    return {
        (
            *(one.dataset_key, one.record_key, one.plant_id),
            *(round(one.longitude * 1e7), round(one.latitude * 1e7)),
            *(one.uncertainty_m, one.year or 0, one.licence, one.basis_of_record),
            *(one.establishment_means, one.degree_of_establishment),
        )
        for one in found
    }


def check(records: list[Cells], write: Writer) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = write(folder / "records", records)
        store = make_store(folder / "store.db")
        apart, remarks, kept = expected(records, store)
        if not kept:
            with pytest.raises(NothingKept) as refused:
                load_occurrences(store, [path])
            assert Counter(refused.value.report.set_apart) == apart
            return
        report = load_occurrences(store, [path])
        assert Counter(report.set_apart) == apart
        assert Counter(report.remarks) == remarks
        assert report.rows_read == report.rows_kept + apart.total() == len(records)
        assert stored(store) == kept


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(some_records, st.sampled_from([write_tsv, write_csv, write_parquet]))
def test_the_sql_and_plain_python_judge_alike(records: list[Cells], write: Writer) -> None:
    check([record(number, **cells) for number, cells in enumerate(records)], write)


@pytest.mark.parametrize("write", [write_tsv, write_csv, write_parquet])
def test_they_agree_on_thousands_of_rows_of_every_mixture(write: Writer) -> None:
    random = Random(20)
    records = []
    for number in range(6_000):
        odd = random.sample(sorted(CELLS), random.choice([0, 0, 1, 1, 2, 3]))
        records.append(record(number, **{term: random.choice(CELLS[term]) for term in odd}))
    check(records, write)
