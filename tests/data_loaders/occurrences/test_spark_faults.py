"""Spark loses a worker, its driver or itself under a load, or meets a damaged part: real processes,
killed.

Whatever befalls, the store is as it was or whole, and the load that goes on ends as one that nothing
befell.
"""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from data_loaders.occurrences import load_occurrences
from data_loaders.progress import LoadProgress
from service.cli.main import main
from service.store.database import Build
from tests.data_loaders.occurrences.snapshots import (
    ODD,
    PLAIN,
    Snapshot,
    content,
    left_beside,
    needs_spark,
    spoil,
    watch,
)
from tests.data_loaders.occurrences.stores import make_store
from tests.outside import family, spark_cluster

pytestmark = needs_spark
REPOSITORY = Path(__file__).parents[3]
LOCAL = "local[2]"


@contextmanager
def loading(store: Path, parts: Path) -> Iterator[subprocess.Popen[str]]:
    """The command, as a process of its own; killed at the end if it still runs."""
    command = [
        *(sys.executable, "-c", "from service.cli.main import main; main()", "load", "occurrences"),
        *(str(parts), "--engine", "spark", "--master", LOCAL, "--store", str(store)),
    ]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=REPOSITORY,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def wait_for(what: Callable[[], object], process: subprocess.Popen[str]) -> None:
    for _ in range(3_000):
        if what():
            return
        assert process.poll() is None, process.communicate()[1]
        time.sleep(0.05)
    raise AssertionError("it did not come to that")


def java_of(process: subprocess.Popen[str]) -> int:
    """The JVM that the command began."""
    (found,) = [
        pid
        for pid in family([process.pid])
        if Path(f"/proc/{pid}/comm").read_text().strip() == "java"
    ]
    return found


def is_running(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def judged_for(store: Path) -> list[Path]:
    """Batches that are judged, by their counts."""
    return list(store.parent.glob(f".{store.name}.judged-*/*.json"))


def test_a_worker_killed_midway_costs_nothing_but_time(snapshot: Snapshot, tmp_path: Path) -> None:
    store = make_store(tmp_path / "store.db")
    killed: list[int] = []
    with spark_cluster() as cluster:

        def kill_once(now: LoadProgress) -> None:
            if now.stage == "sorting" and not killed:  # both hold rows that are read by now
                killed.extend(family([cluster.workers[0]]))
                for pid in killed:
                    os.kill(pid, signal.SIGKILL)

        report = load_occurrences(
            store, [snapshot.folder], engine="spark", master=cluster.master, progress=kill_once
        )
    assert len(killed) >= 2  # the worker, and the executor that it had begun
    assert content(store, report) == snapshot.expected
    assert left_beside(store) == [".store.db.lock"]


def test_a_driver_killed_midway_leaves_the_store_and_what_it_judged(
    snapshot: Snapshot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = make_store(tmp_path / "store.db")
    before = store.read_bytes()
    with loading(store, snapshot.folder) as process:
        wait_for(lambda: judged_for(store), process)
        java = java_of(process)
        process.kill()
        process.wait()
        for _ in range(1_200):
            if not is_running(java):
                break
            time.sleep(0.05)
    assert not is_running(java)
    assert store.read_bytes() == before
    Build(store).close()
    assert len(judged_for(store)) == 1

    watched = watch("spark", monkeypatch)
    report = load_occurrences(store, [snapshot.folder], engine="spark", master=LOCAL)
    assert watched.begun == [PLAIN]  # the six of the other batch are not judged again
    assert content(store, report) == snapshot.expected
    assert left_beside(store) == [".store.db.lock"]


def test_a_spark_that_is_killed_under_the_command_is_told_plainly(
    snapshot: Snapshot, tmp_path: Path
) -> None:
    store = make_store(tmp_path / "store.db")
    before = store.read_bytes()
    with loading(store, snapshot.folder) as process:
        wait_for(lambda: list(tmp_path.glob(".store.db.judged-*/spark-*/judging")), process)
        os.kill(java_of(process), signal.SIGKILL)
        _, said = process.communicate()
    assert process.returncode == 1
    assert "Spark ended before its work was done" in said
    assert "load again" in said
    assert "Traceback" not in said
    assert store.read_bytes() == before
    assert left_beside(store) == [".store.db.lock"]


def test_a_damaged_part_is_named_and_the_others_are_judged_once(
    snapshot: Snapshot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = make_store(tmp_path / "store.db")
    before = store.read_bytes()
    parts = tmp_path / "parts"
    shutil.copytree(snapshot.folder, parts)
    spoil(parts / PLAIN[1])
    command = ["load", "occurrences", str(parts), "--engine", "spark", "--master", LOCAL]
    watched = watch("spark", monkeypatch)
    done = CliRunner().invoke(main, [*command, "--store", str(store)])
    assert isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code == 1
    assert f"{PLAIN[1]}: Spark could not work through it" in done.output
    assert "Fetch the file again" in done.output
    assert store.read_bytes() == before
    assert watched.done == [ODD, PLAIN[:1]]

    shutil.copyfile(snapshot.folder / PLAIN[1], parts / PLAIN[1])
    already = len(watched.begun)
    report = load_occurrences(store, [parts], engine="spark", master=LOCAL)
    assert watched.begun[already:] == [PLAIN[1:]]
    assert content(store, report) == snapshot.expected
    assert left_beside(store) == [".store.db.lock"]
