"""A build is whole or not at all; the service follows from one to the next."""

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, BinaryIO

import pytest

from data_loaders import build
from data_loaders.build import Draft, drafting
from data_loaders.reference_store import load_reference
from service.errors import StoreDamaged, StoreError, StoreMissing, StoreOutdated
from service.store import seal
from service.store.database import Build
from service.store.library import StoreHandle


def add_source(draft: Draft, source_id: str) -> None:
    draft.db.table("source").insert(
        {"source_id": source_id, "kind": "reference", "title": "A", "sha256": source_id * 4}
    )


def test_the_build_id_is_a_hash_of_the_inputs(tmp_path: Path) -> None:
    paths = [tmp_path / name for name in ("one.db", "two.db", "three.db")]
    for path, source in zip(paths, ["a", "a", "b"], strict=True):
        with drafting(path, on_top=False) as draft:
            add_source(draft, source)
    one, two, three = (Build(path).build_id for path in paths)
    assert one == two != three


def _stopped_half_way(path: Path) -> None:
    with drafting(path, on_top=True) as draft:
        add_source(draft, "b")
        raise RuntimeError("half way")


def test_a_load_that_fails_leaves_the_old_store(tmp_path: Path) -> None:
    path = tmp_path / "store.db"
    with drafting(path, on_top=False) as draft:
        add_source(draft, "a")
    before = path.read_bytes()
    with pytest.raises(RuntimeError):
        _stopped_half_way(path)
    assert path.read_bytes() == before
    assert not list(tmp_path.glob(".store.db.draft-*"))


def test_a_build_that_breaks_its_promise_of_counts_is_refused(tmp_path: Path) -> None:
    with (
        pytest.raises(StoreError, match="0 rows in plant where its inputs have 1"),
        drafting(tmp_path / "s.db", on_top=False) as draft,
    ):
        draft.expect_count("plant", 1)
    assert not (tmp_path / "s.db").exists()


def test_a_row_that_points_nowhere_is_refused(tmp_path: Path) -> None:
    with (
        pytest.raises(StoreError, match="point nowhere"),
        drafting(tmp_path / "s.db", on_top=False) as draft,
    ):
        draft.db.table("name").insert(
            {"name": "x", "kind": "accepted", "plant_id": "nobody", "source_id": "none"}
        )


@pytest.mark.parametrize("seconds", [0.3, 0.8, 1.2])
def test_a_load_killed_at_any_moment_leaves_the_old_store(
    tmp_path: Path, reference_path: Path, seconds: float
) -> None:
    path = tmp_path / "store.db"
    path.write_bytes(reference_path.read_bytes())
    before = Build(path).build_id
    code = "import sys; from pathlib import Path; from data_loaders.reference_store import load_reference; load_reference(Path(sys.argv[1]))"
    process = subprocess.Popen([sys.executable, "-c", code, str(path)])
    try:
        process.wait(seconds)
    except subprocess.TimeoutExpired:
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
    assert Build(path).build_id == before
    load_reference(path)
    assert not list(tmp_path.glob(".store.db.draft-*"))


def test_the_desk_takes_up_a_new_build_and_the_old_one_stays_readable(
    tmp_path: Path, reference_path: Path
) -> None:
    path = tmp_path / "store.db"
    path.write_bytes(reference_path.read_bytes())
    store = StoreHandle(path)
    old = store.current()
    with drafting(path, on_top=True) as draft:
        add_source(draft, "more")
    new = store.current()
    assert new.build_id != old.build_id
    assert len(old.plants) == len(new.plants) > 300


def test_a_store_that_is_missing_damaged_or_old_is_said_to_be(
    tmp_path: Path, reference_path: Path
) -> None:
    with pytest.raises(StoreMissing, match="reedgate load reference"):
        Build(tmp_path / "none.db")
    content = bytearray(reference_path.read_bytes())
    (tmp_path / "short.db").write_bytes(content[: len(content) // 2])
    with pytest.raises(StoreDamaged):
        Build(tmp_path / "short.db")
    (tmp_path / "text.db").write_text("no database")
    with pytest.raises(StoreDamaged):
        Build(tmp_path / "text.db")
    (tmp_path / "old.db").write_bytes(content)
    connection = sqlite3.connect(tmp_path / "old.db")
    connection.execute("UPDATE meta SET value = '0' WHERE key = 'schema_version'")
    connection.commit()
    connection.close()
    with pytest.raises(StoreOutdated):
        Build(tmp_path / "old.db")


def test_a_load_that_adds_seals_as_one_that_reads_everything_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pieces that were not written to are taken as they were; the seal is the same."""
    monkeypatch.setattr(build, "PIECES_FROM_BYTES", 0)
    monkeypatch.setattr(seal, "PIECE_BYTES", 8_192)
    target = tmp_path / "store.db"
    with drafting(target, on_top=False) as draft:
        _add_blocks(draft, 1, 400)
    hashed: list[int] = []
    _watch_pieces(monkeypatch, hashed)
    for number in range(5):
        hashed.clear()
        with drafting(target, on_top=True, appends=("occurrence_block",)) as draft:
            _add_blocks(draft, 1_000 * (number + 1), 3)
        assert 0 < len(hashed) < target.stat().st_size / 8_192 / 2
        Build(target).close()  # holds the whole file against its seal
    assert not list(tmp_path.glob("*-wal"))
    assert target.read_bytes()[18:20] == b"\x01\x01"  # no store in two files


def test_what_was_damaged_before_a_load_does_not_fit_the_seal_after_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(build, "PIECES_FROM_BYTES", 0)
    monkeypatch.setattr(seal, "PIECE_BYTES", 8_192)
    target = tmp_path / "store.db"
    with drafting(target, on_top=False) as draft:
        _add_blocks(draft, 1, 400)
    stat = target.stat()
    content = bytearray(target.read_bytes())
    place = content.index(b"\x07" * 300)
    content[place] ^= 1
    with target.open("r+b") as stream:
        stream.write(content)
    os.utime(target, ns=(stat.st_atime_ns, stat.st_mtime_ns))  # as a failing disk leaves it
    with drafting(target, on_top=True, appends=("occurrence_block",)) as draft:
        _add_blocks(draft, 1_000, 3)
    with pytest.raises(StoreDamaged):
        Build(target)


def test_a_store_that_was_written_to_is_read_through_before_it_is_built_upon(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(build, "PIECES_FROM_BYTES", 0)
    target = tmp_path / "store.db"
    with drafting(target, on_top=False) as draft:
        _add_blocks(draft, 1, 400)
    content = bytearray(target.read_bytes())
    content[content.index(b"\x07" * 300)] ^= 1
    target.write_bytes(content)
    with (
        pytest.raises(StoreDamaged),
        drafting(target, on_top=True, appends=("occurrence_block",)),
    ):
        raise AssertionError("a damaged store was drafted upon")


def _add_blocks(draft: Draft, first: int, count: int) -> None:
    draft.connection.executemany(
        "INSERT INTO occurrence_block VALUES (?, 1, 1, ?, 'key')",
        [(first + number, b"\x07" * 900) for number in range(count)],
    )


def _watch_pieces(monkeypatch: pytest.MonkeyPatch, hashed: list[int]) -> None:
    plain = seal._hashed

    def watched(stream: BinaryIO, numbers: Sequence[int], written: str) -> Any:
        hashed.extend(numbers)
        return plain(stream, numbers, written)

    monkeypatch.setattr(seal, "_hashed", watched)
