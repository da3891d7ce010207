"""The handle on the store follows the file, and never answers from one that was written to."""

import sqlite3
from pathlib import Path

import pytest

from service.errors import StoreDamaged, StoreMissing, StoreOutdated
from service.store.database import Build
from service.store.library import StoreHandle
from tests.stores import copied, reference_store


def test_a_build_that_was_written_to_in_place_is_not_used_again(tmp_path: Path) -> None:
    store = copied(reference_store(), tmp_path / "reedgate.db")
    handle = StoreHandle(store)
    handle.current()
    with store.open("r+b") as stream:
        stream.seek(200_000)
        stream.write(b"\xff" * 64)
    with pytest.raises(StoreDamaged):
        handle.current()
    # A file that is gone leaves the last good build in use; this one was not good any more.
    store.unlink()
    with pytest.raises(StoreMissing):
        handle.current()


def test_a_build_whose_file_is_gone_stays_in_use(tmp_path: Path) -> None:
    store = copied(reference_store(), tmp_path / "reedgate.db")
    handle = StoreHandle(store)
    build_id = handle.current().build_id
    store.unlink()
    assert handle.current().build_id == build_id


@pytest.mark.parametrize("schema", ["1", "9999", None])
def test_a_store_of_another_schema_is_refused_before_anything_is_read(
    tmp_path: Path, schema: str | None
) -> None:
    store = copied(reference_store(), tmp_path / "reedgate.db")
    with sqlite3.connect(store) as connection:
        if schema is None:
            connection.execute("DELETE FROM meta WHERE key = 'schema_version'")
        else:
            connection.execute("UPDATE meta SET value = ? WHERE key = 'schema_version'", (schema,))
    connection.close()
    with pytest.raises(StoreOutdated) as raised:
        Build(store)
    assert "reedgate load reference" in raised.value.next_step
