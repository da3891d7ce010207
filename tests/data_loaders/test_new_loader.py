"""The walk of DEVELOPERS.md, "Add a loader", as it says it: gauges, which are invented."""

from collections.abc import Sequence
from pathlib import Path

import pytest

from data_loaders.additions import additions
from data_loaders.build import drafting, file_sha256
from data_loaders.progress import LoadProgress, Meter, Progress
from data_loaders.reference_store import load_reference
from data_loaders.report import (
    LoadReport,
    NothingKept,
    Tally,
    loaded_before,
    source_id_of,
    write_source,
)
from service.errors import StoreError
from tests.data_loaders.occurrences.stores import make_store

_TABLE = """
CREATE TABLE IF NOT EXISTS gauge (
  gauge_id TEXT PRIMARY KEY, level_m REAL NOT NULL,
  source_id TEXT NOT NULL REFERENCES source(source_id)
) WITHOUT ROWID"""


def load_gauges(
    target: Path, files: Sequence[Path], *, progress: Progress | None = None
) -> LoadReport:
    digests = {path: file_sha256(path) for path in files}
    before = loaded_before(target, "gauges", digests)
    if before is not None:
        return before
    with drafting(target, on_top=True) as draft:
        draft.connection.execute(_TABLE)
        reports = []
        for path, digest in digests.items():
            tally, meter = Tally(), Meter(path.name, progress)
            source_id = source_id_of("gauges", digest)
            for line in path.read_text().splitlines():
                tally.read()
                gauge, _, level = line.partition(",")
                if not level:
                    tally.apart("no level")
                    continue
                tally.keep()
                draft.connection.execute(
                    "INSERT INTO gauge VALUES (?, ?, ?)", (gauge, float(level), source_id)
                )
            meter.rows(tally.rows_read, tally.rows_read)
            reports.append(tally.report(path.name, source_id, digest))
            write_source(draft, reports[-1], kind="gauges", title=path.name)
        report = LoadReport("gauges", tuple(reports))
        if not report.rows_kept:
            raise NothingKept(report)
        draft.expect_count("gauge", report.rows_kept)
    return report


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "store.db")


def test_a_new_kind_of_data_loads_and_is_counted(store: Path, tmp_path: Path) -> None:
    paths = []
    for place, text in enumerate(("a,1.5\nb,\n", "c,2\n")):
        (tmp_path / str(place)).mkdir()
        paths.append(tmp_path / str(place) / "gauges.csv")
        paths[-1].write_text(text)
    stages: list[LoadProgress] = []
    report = load_gauges(store, paths, progress=stages.append)
    assert (report.rows_read, report.rows_kept, report.set_apart) == (3, 2, {"no level": 1})
    assert [one.file for one in report.files] == ["gauges.csv"] * 2
    assert stages[-1].done == 1.0
    assert load_gauges(store, paths).unchanged
    assert [one.kind for one in additions(store)] == ["gauges"] * 2 + ["plants"]


def test_rows_of_which_none_is_kept_are_an_error(store: Path, tmp_path: Path) -> None:
    path = tmp_path / "gauges.csv"
    path.write_text("b,\n")
    before = store.read_bytes()
    with pytest.raises(NothingKept, match="0 of 1 rows kept; 1 set apart: no level"):
        load_gauges(store, [path])
    assert store.read_bytes() == before


def test_a_kind_that_rebuilding_does_not_know_stops_it(tmp_path: Path) -> None:
    store = tmp_path / "reference.db"
    load_reference(store)
    path = tmp_path / "gauges.csv"
    path.write_text("a,1\n")
    load_gauges(store, [path])
    with pytest.raises(StoreError, match="sources of the kind gauges"):
        load_reference(store)
