"""Stores to load geography into: the packaged boundaries, built once a process and copied."""

import shutil
import sqlite3
import tempfile
from functools import lru_cache
from pathlib import Path

from data_loaders.build import drafting
from data_loaders.geography.boundaries import add_boundaries

_FOLDERS: list[tempfile.TemporaryDirectory[str]] = []


def kept_folder() -> Path:
    """A folder that lasts as long as the process."""
    _FOLDERS.append(tempfile.TemporaryDirectory(prefix="reedgate-test-"))
    return Path(_FOLDERS[-1].name)


@lru_cache(maxsize=1)
def boundary_store() -> Path:
    """A store with the packaged boundaries alone; only to be read."""
    target = kept_folder() / "boundaries.db"
    with drafting(target, on_top=False) as draft:
        add_boundaries(draft)
    return target


def fresh_store(folder: Path) -> Path:
    """A copy of it to load into."""
    return Path(shutil.copy(boundary_store(), folder / "store.db"))


def empty_store(folder: Path) -> Path:
    """A store without anything in it, for tests that load many times."""
    target = folder / "store.db"
    with drafting(target, on_top=False):
        pass
    return target


def connect(path: Path) -> sqlite3.Connection:
    """As the service reads it: read-only, rows by name."""
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    connection.row_factory = sqlite3.Row
    return connection
