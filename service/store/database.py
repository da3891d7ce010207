"""Opening the store: read-only, checked once a build, picked up anew when a build replaces the file."""

import sqlite3
import threading
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from service.errors import StoreDamaged, StoreMissing, StoreOutdated
from service.store.schema import SCHEMA_VERSION
from service.vocabulary import BuildId


@dataclass(frozen=True)
class _Identity:
    device: int
    inode: int
    size: int
    modified_ns: int

    @classmethod
    def of(cls, path: Path) -> "_Identity":
        try:
            stat = path.stat()
        except OSError as error:
            raise StoreMissing(
                f"There is no store at {path.name}.",
                next_step="Build one: reedgate load reference, or reedgate demo.",
            ) from error
        return cls(stat.st_dev, stat.st_ino, stat.st_size, stat.st_mtime_ns)


class Build:
    """One build of the store, open read-only. Safe to share between threads: each gets its own connection.

    Raises:
        StoreMissing, StoreOutdated, StoreDamaged: on opening.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._identity = _Identity.of(path)
        self._local = threading.local()
        # Held open so that the build stays readable after another has taken its name.
        self._file = path.open("rb")
        self._check()

    def _connect(self) -> sqlite3.Connection:
        descriptor = Path(f"/proc/self/fd/{self._file.fileno()}")
        target = descriptor if descriptor.exists() else self.path
        connection = sqlite3.connect(f"file:{target}?mode=ro&immutable=1", uri=True, check_same_thread=False)
        connection.row_factory = sqlite3.Row
        return connection

    @property
    def connection(self) -> sqlite3.Connection:
        """This thread's connection."""
        existing: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if existing is None:
            existing = self._local.connection = self._connect()
        return existing

    def _check(self) -> None:
        try:
            meta = dict(self.connection.execute("SELECT key, value FROM meta"))
            damage = self.connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        except sqlite3.DatabaseError as error:
            raise StoreDamaged(
                f"The store {self.path.name} cannot be read: {error}.",
                next_step="Put back a copy of it, or rebuild with: reedgate load reference.",
            ) from error
        if meta.get("schema_version") != SCHEMA_VERSION:
            raise StoreOutdated(
                f"The store has schema {meta.get('schema_version')}, this program reads {SCHEMA_VERSION}.",
                next_step="Rebuild with: reedgate load reference.",
            )
        if damage != "ok":
            raise StoreDamaged(
                f"The store {self.path.name} fails its integrity check: {damage}.",
                next_step="Put back a copy of it, or rebuild with: reedgate load reference.",
            )
        self._meta = meta

    @cached_property
    def build_id(self) -> BuildId:
        """Content hash of all that went into the build."""
        return BuildId(self._meta["build_id"])

    def is_current(self) -> bool:
        """Whether the file at the path is still this build."""
        try:
            return _Identity.of(self.path) == self._identity
        except StoreMissing:
            return True

    def close(self) -> None:
        """Give the file back. Connections of other threads close with their threads."""
        existing: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if existing is not None:
            existing.close()
            self._local.connection = None
        self._file.close()
