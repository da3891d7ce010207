"""The small path and the bulk path keep the same records and count the same flaws, whatever the
cells hold.
"""

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from data_loaders.occurrences import load_occurrences
from data_loaders.report import FileReport
from service.store.database import Build
from tests.data_loaders.occurrences.files import Cells, record, write_csv, write_parquet, write_tsv
from tests.data_loaders.occurrences.stores import make_store

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


def outcome(path: Path, folder: Path, bulk_from_bytes: int) -> tuple[FileReport, list[str]]:
    store = make_store(folder / f"store-{bulk_from_bytes}.db")
    report = load_occurrences(store, [path], bulk_from_bytes=bulk_from_bytes)
    build = Build(store)
    tables = [line for line in build.connection.iterdump() if "occurrence" in line]
    build.close()
    return report.files[0], tables


def check(records: list[Cells], write: Writer) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = write(folder / "records", records)
        small, small_tables = outcome(path, folder, 1 << 40)
        bulk, bulk_tables = outcome(path, folder, 0)
        assert small == bulk
        assert small.rows_read == small.rows_kept + sum(small.set_apart.values()) == len(records)
        assert small_tables == bulk_tables


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(some_records, st.sampled_from([write_tsv, write_csv, write_parquet]))
def test_both_paths_give_the_same_report_and_the_same_bytes(
    records: list[Cells], write: Writer
) -> None:
    check([record(number, **cells) for number, cells in enumerate(records)], write)


@pytest.mark.parametrize("write", [write_tsv, write_csv, write_parquet])
def test_both_paths_agree_on_thousands_of_rows_of_every_mixture(write: Writer) -> None:
    random = Random(20)
    records = []
    for number in range(6_000):
        odd = random.sample(sorted(CELLS), random.choice([0, 0, 1, 1, 2, 3]))
        records.append(record(number, **{term: random.choice(CELLS[term]) for term in odd}))
    check(records, write)
