"""Stores that the tests ask, each built once a run, whoever of the test processes is first."""

import fcntl
import os
import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

RUN = "REEDGATE_TEST_RUN"
"""Names the run; the first process sets it, and those that it starts have it from there."""


@cache
def folder() -> Path:
    """A folder of this run, shared by its processes."""
    run = os.environ.setdefault(RUN, f"run-{os.getpid()}")
    path = Path(tempfile.gettempdir()) / f"reedgate-tests-{os.getuid()}" / run
    path.mkdir(parents=True, exist_ok=True)
    return path


def built_once(name: str, build: Callable[[Path], object]) -> Path:
    """The path of a store, built by ``build`` where no process of this run has done so."""
    path = folder() / name
    with path.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not path.exists():
            draft = folder() / f"building-{name}"
            build(draft)
            draft.rename(path)
    return path


@cache
def reference_store() -> Path:
    """The package's reference data. Not to be written to."""
    from data_loaders.reference_store import load_reference

    return built_once("reference.db", load_reference)


@cache
def demo_store() -> Path:
    """The reference data with the demo's waters, zones and records. Not to be written to."""
    from data_loaders.reference_store import load_demo

    return built_once("demo.db", load_demo)


def copied(store: Path, target: Path) -> Path:
    """A copy that a test may write to."""
    shutil.copyfile(store, target)
    return target


def remove_folder() -> None:
    """Take the run's folder away; the last process of a run does so."""
    shutil.rmtree(folder(), ignore_errors=True)
