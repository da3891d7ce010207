"""The disk fills up under a load of occurrence records, with either engine: while rows are judged, and
while they are stored.

A small file system in memory is filled at that moment. Where none may be mounted, files may from then
on not grow beyond a limit, which is the same to the programs that write them.
"""

import os
import resource
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from data_loaders.occurrences import load_occurrences
from data_loaders.occurrences.load import EngineName
from data_loaders.occurrences.merge import merge
from service.cli.main import main
from tests.data_loaders.occurrences.snapshots import (
    ENGINES,
    Snapshot,
    content,
    left_beside,
    needs_spark,
    watch,
)
from tests.data_loaders.occurrences.stores import make_store
from tests.outside import family

DISK_BYTES = 128 << 20


@dataclass
class SmallDisk:
    """A folder with little room.

    Attributes:
        is_mounted: whether it is a file system of its own.
    """

    folder: Path
    is_mounted: bool

    def fill(self, left_bytes: int) -> None:
        """Leave so much room: of the disk, or to each file."""
        if not self.is_mounted:
            self._limit(left_bytes)
            return
        room = os.statvfs(self.folder)
        with (self.folder / "ballast").open("wb") as ballast:
            ballast.write(bytes(room.f_bavail * room.f_frsize - left_bytes))

    def make_room(self) -> None:
        (self.folder / "ballast").unlink(missing_ok=True)
        if not self.is_mounted:
            self._limit(None)

    @staticmethod
    def _limit(most_bytes: int | None) -> None:
        for pid in family([os.getpid()]):
            _, hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)
            resource.prlimit(
                pid, resource.RLIMIT_FSIZE, (hard if most_bytes is None else most_bytes, hard)
            )


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    folder = tmp_path / "disk"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={DISK_BYTES}", "tmpfs", str(folder)]
    try:
        is_mounted = subprocess.run(command, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        is_mounted = False
    found = SmallDisk(folder, is_mounted)
    yield found
    found.make_room()
    if is_mounted:
        subprocess.run(["umount", "-l", str(folder)], check=True)


@pytest.mark.parametrize("engine", ["duckdb", pytest.param("spark", marks=needs_spark)])
def test_a_disk_that_fills_up_ends_the_load_plainly_and_the_next_goes_on(
    engine: EngineName,
    disk: SmallDisk,
    snapshot: Snapshot,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    store = make_store(disk.folder / "store.db")
    before = store.read_bytes()
    command = ["load", "occurrences", str(snapshot.folder), "--engine", engine]
    command += ["--store", str(store), "--master", "local[2]"]

    def load_fails() -> None:
        done = CliRunner().invoke(main, command)
        assert isinstance(done.exception, SystemExit), done.exception
        assert done.exit_code == 1
        assert "could not be written" in done.output
        assert "Make room on the disk" in done.output
        assert "load again" in done.output
        assert store.read_bytes() == before
        assert [name for name in left_beside(store) if "draft" in name] == []
        disk.make_room()

    if engine == "spark" and not disk.is_mounted:  # Java unpacks libraries of its own once
        load_occurrences(make_store(tmp_path / "other.db"), [snapshot.folder], engine=engine)
    watched = watch(engine, monkeypatch)
    with monkeypatch.context() as patch:
        patch.setattr(ENGINES[engine], "judge", filling(disk, 100_000, ENGINES[engine].judge))
        load_fails()
    assert len(watched.begun) == 1  # a full disk is no damaged part that is to be looked for
    assert watched.done == []

    with monkeypatch.context() as patch:
        patch.setattr("data_loaders.occurrences.load.merge", filling(disk, 300_000, merge))
        load_fails()
    judged = len(watched.done)
    assert judged == 2

    report = load_occurrences(store, [snapshot.folder], engine=engine, master="local[2]")
    assert len(watched.begun) == 1 + judged  # judged before, and not again
    assert content(store, report) == snapshot.expected
    assert left_beside(store) == [".store.db.lock"]


def filling(disk: SmallDisk, left_bytes: int, then: Callable[..., Any]) -> Callable[..., Any]:
    """A function that does its work on a disk which something else has filled."""

    def filled(*arguments: Any, **named: Any) -> Any:
        disk.fill(left_bytes)
        return then(*arguments, **named)

    return filled
