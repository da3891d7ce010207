"""The loader killed at random moments, while a reader answers from the store.

Whatever the moment, the file at the store's path is the old build or the new one, whole; the next
load goes through.
"""

import os
import random
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from data_loaders.occurrences import load_occurrences
from service.store.database import Build
from service.store.occurrences import evidence
from service.values.evidence import Evidence
from service.values.vocabulary import BuildId, PlantId
from tests.data_loaders.occurrences.files import record, write_tsv
from tests.data_loaders.occurrences.stores import make_store

LILY = PlantId("nymphaea-odorata")
OLD_RECORDS, NEW_RECORDS = 300, 4_000
REPOSITORY = Path(__file__).parents[3]

LOADER = """
import sys
from pathlib import Path
from data_loaders.occurrences import load_occurrences
print("ready", flush=True)
load_occurrences(Path(sys.argv[1]), [Path(sys.argv[2])])
"""


def count(found: Evidence) -> int:
    """Records near, each by itself."""
    return sum(dataset.records for dataset in found.datasets)


@dataclass
class Reader:
    """Answers from the store over and over, as a server does: opens it anew when another build
    has come.
    """

    store: Path
    answered: dict[BuildId, set[int]] = field(default_factory=dict)
    failures: list[str] = field(default_factory=list)
    answers: int = 0
    stopped: bool = False

    def run(self) -> None:
        build = Build(self.store)
        while not self.stopped:
            try:
                if not build.is_current():
                    fresh = Build(self.store)
                    build.close()
                    build = fresh
                found = evidence(build.connection, LILY, -83.0, 41.0)
                self.answered.setdefault(build.build_id, set()).add(count(found))
                self.answers += 1
            except Exception as error:  # a failed read of any kind is what this test looks for
                self.failures.append(repr(error))
        build.close()


@pytest.fixture(scope="module")
def inputs(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, Path, float]:
    """The old store's bytes, the file to be loaded, and how long the whole load takes here."""
    folder = tmp_path_factory.mktemp("killed")
    store = make_store(folder / "store.db")
    load_occurrences(
        store, [write_tsv(folder / "old.tsv", [record(number) for number in range(OLD_RECORDS)])]
    )
    new = write_tsv(
        folder / "new.tsv",
        [record(number) for number in range(OLD_RECORDS, OLD_RECORDS + NEW_RECORDS)],
    )
    trial = folder / "trial.db"
    trial.write_bytes(store.read_bytes())
    began = time.monotonic()
    with start(trial, new) as process:
        wait_until_ready(process)
        began = time.monotonic()
        process.wait()
    return store.read_bytes(), new, time.monotonic() - began


def start(store: Path, file: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", LOADER, str(store), str(file)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=REPOSITORY,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
    )


def wait_until_ready(process: subprocess.Popen[str]) -> None:
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"


def kill_while_loading(seed: int, inputs: tuple[bytes, Path, float], folder: Path) -> None:
    old, new, seconds = inputs
    store = folder / "store.db"
    store.write_bytes(old)
    moment = random.Random(seed)
    reader = Reader(store)
    thread = threading.Thread(target=reader.run)
    thread.start()
    with start(store, new) as process:
        wait_until_ready(process)
        time.sleep(moment.uniform(0, 1.3) * seconds)
        process.send_signal(signal.SIGKILL)
        killed = process.wait() == -signal.SIGKILL
    time.sleep(0.02)
    reader.stopped = True
    thread.join()

    assert reader.failures == []
    assert reader.answers > 0
    assert set().union(*reader.answered.values()) <= {OLD_RECORDS, OLD_RECORDS + NEW_RECORDS}
    assert all(len(counts) == 1 for counts in reader.answered.values())
    if killed and store.read_bytes() == old:
        expected = OLD_RECORDS
    else:
        expected = OLD_RECORDS + NEW_RECORDS
    build = Build(store)  # refuses a store that fails its integrity check
    assert count(evidence(build.connection, LILY, -83.0, 41.0)) == expected
    build.close()

    load_occurrences(store, [new])
    build = Build(store)
    assert count(evidence(build.connection, LILY, -83.0, 41.0)) == OLD_RECORDS + NEW_RECORDS
    build.close()
    assert sorted(path.name for path in folder.iterdir()) == [".store.db.lock", "store.db"]


@pytest.mark.parametrize("seed", range(5))
def test_a_killed_load_leaves_the_old_store_or_the_new_one(
    seed: int, inputs: tuple[bytes, Path, float], tmp_path: Path
) -> None:
    kill_while_loading(seed, inputs, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5, 55))
def test_a_killed_load_leaves_the_old_store_or_the_new_one_at_fifty_more_moments(
    seed: int, inputs: tuple[bytes, Path, float], tmp_path: Path
) -> None:
    kill_while_loading(seed, inputs, tmp_path)
