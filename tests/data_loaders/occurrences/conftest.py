"""What the tests of loads share."""

import pytest

from data_loaders.occurrences import load_occurrences
from tests.data_loaders.occurrences.snapshots import (
    ROWS,
    Snapshot,
    content,
    write_snapshot,
)
from tests.data_loaders.occurrences.stores import make_store


@pytest.fixture(scope="session")
def snapshot(tmp_path_factory: pytest.TempPathFactory) -> Snapshot:
    """The snapshot, and what DuckDB makes of it."""
    folder = tmp_path_factory.mktemp("snapshot")
    parts = write_snapshot(folder / "parts")
    store = make_store(folder / "store.db")
    report = load_occurrences(store, [parts])
    assert report.rows_read == sum(ROWS.values())
    assert len(report.set_apart) >= 12
    return Snapshot(parts, content(store, report))
