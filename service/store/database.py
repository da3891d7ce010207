"""Opening the store: read-only, checked once a build, picked up anew when a build replaces the file."""

import os
import sqlite3
import threading
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from service.errors import StoreDamaged, StoreMissing, StoreOutdated
from service.store import seal
from service.store.deadline import STEPS_BETWEEN_LOOKS, is_past
from service.store.schema import SCHEMA_VERSION
from service.vocabulary import BuildId

_RESTORE = "Put back a copy of it, or rebuild with: reedgate load reference."


@dataclass(frozen=True)
class Identity:
    """Which file, in which state, stands at a path."""

    device: int
    inode: int
    size: int
    modified_ns: int

    @classmethod
    def of(cls, path: Path) -> "Identity":
        """The identity of the file at a path.

        Raises:
            StoreMissing: nothing is there, or it may not be looked at.
        """
        try:
            return cls._from(path.stat())
        except FileNotFoundError as error:
            raise StoreMissing(
                f"There is no store at {path.name}.", next_step="Build one: reedgate load reference, or reedgate demo."
            ) from error
        except OSError as error:
            raise _unreadable(path, error) from error

    @classmethod
    def of_open(cls, descriptor: int) -> "Identity":
        """The identity of an open file."""
        return cls._from(os.fstat(descriptor))

    @classmethod
    def _from(cls, stat: os.stat_result) -> "Identity":
        return cls(stat.st_dev, stat.st_ino, stat.st_size, stat.st_mtime_ns)

    def same_file(self, other: "Identity") -> bool:
        """Whether both are one file, written to or not."""
        return (self.device, self.inode) == (other.device, other.inode)


def _unreadable(path: Path, error: OSError) -> StoreMissing:
    return StoreMissing(
        f"The store {path.name} cannot be opened: {os.strerror(error.errno or 0)}.",
        next_step="See that the account of the service may read the file and enter its folder.",
    )


class Build:
    """One build of the store, open read-only. Safe to share between threads: each gets its own connection.

    Raises:
        StoreMissing, StoreOutdated, StoreDamaged: on opening.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        Identity.of(path)
        self._local = threading.local()
        # Held open so that the build stays readable after another has taken its name.
        try:
            self._file = path.open("rb")
        except OSError as error:
            raise _unreadable(path, error) from error
        self.identity = Identity.of_open(self._file.fileno())
        try:
            self._meta = self._checked()
        except BaseException:
            self.close()
            raise

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
            existing.set_progress_handler(is_past, STEPS_BETWEEN_LOOKS)
        return existing

    def _checked(self) -> dict[str, str]:
        """The facts of the build about itself, once it is known to be whole."""
        try:
            meta = dict(self.connection.execute("SELECT key, value FROM meta"))
        except sqlite3.DatabaseError as error:
            raise StoreDamaged(f"The store {self.path.name} cannot be read: {error}.", next_step=_RESTORE) from error
        if meta.get("schema_version") != SCHEMA_VERSION:
            raise StoreOutdated(
                f"The store has schema {meta.get('schema_version')}, this program reads {SCHEMA_VERSION}.",
                next_step="Rebuild with: reedgate load reference.",
            )
        written = meta.get(seal.KEY)
        if written is None:
            raise StoreDamaged(
                f"The store {self.path.name} bears no seal, so it was not finished or was changed by hand.", next_step=_RESTORE
            )
        if seal.digest(self._file, written) != written:
            raise StoreDamaged(
                f"The store {self.path.name} does not fit its seal: it is damaged, cut short, or was written to after it was built.",
                next_step=_RESTORE,
            )
        return meta

    @cached_property
    def build_id(self) -> BuildId:
        """Content hash of all that went into the build."""
        return BuildId(self._meta["build_id"])

    def is_current(self) -> bool:
        """Whether the file at the path is still this build."""
        try:
            return Identity.of(self.path) == self.identity
        except StoreMissing:
            return True

    def close(self) -> None:
        """Give the file back. Connections of other threads close with their threads."""
        existing: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if existing is not None:
            existing.close()
            self._local.connection = None
        self._file.close()
