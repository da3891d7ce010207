"""Opening the store: read-only, checked once a build, picked up anew when a build replaces the
file.
"""

import os
import sqlite3
import threading
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from service.errors import StoreDamaged, StoreMissing, StoreOutdated
from service.store import seal
from service.store.deadline import STEPS_BETWEEN_LOOKS, is_past
from service.store.schema import SCHEMA_VERSION
from service.values.vocabulary import BuildId

_TRIES = 5
_RESTORE = "Put back a copy of it, or rebuild with: reedgate load reference."


@dataclass(frozen=True)
class Identity:
    """Which file, in which state, is at a path."""

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
                f"There is no store at {path.name}.",
                next_step="Build one: reedgate load reference, or reedgate demo.",
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


def _unreadable(path: Path, error: OSError | sqlite3.Error) -> StoreMissing:
    why = os.strerror(error.errno or 0) if isinstance(error, OSError) else str(error)
    return StoreMissing(
        f"The store {path.name} cannot be opened: {why}.",
        next_step="See that the account of the service may read the file and enter its folder.",
    )


class Build:
    """One build of the store, open read-only. Safe to share between threads: each gets its own
    connection.

    The build stays readable after another has taken its name. A thread that comes to it only then
    shares the first connection, which SQLite
    guards: a name no longer leads to the file (and SQLite follows links, so neither does its
        descriptor).

    Raises:
        StoreMissing, StoreOutdated, StoreDamaged: on opening.
    """

    def __init__(self, path: Path, *, read_through: bool = True) -> None:
        """
        Args:
            read_through: hold the file against its seal; a loader that knows that nothing has
                written to it since it was sealed leaves that to those who answer from it.
        """
        self.path = path
        self._read_through = read_through
        self._local = threading.local()
        self._first, self.identity = self._opened()
        try:
            self._meta = self._checked()
        except BaseException:
            self.close()
            raise

    def _opened(self) -> tuple[sqlite3.Connection, Identity]:
        """The first connection, and the identity of the very file that it has open."""
        for _ in range(_TRIES):
            identity = Identity.of(self.path)
            try:
                connection = self._connect()
            except (OSError, sqlite3.OperationalError) as error:
                raise _unreadable(self.path, error) from error
            if Identity.of(self.path) == identity:
                return connection, identity
            connection.close()
        raise StoreMissing(
            f"The store {self.path.name} is replaced faster than it can be opened.",
            next_step="Try again.",
        )

    def _connect(self) -> sqlite3.Connection:
        with self.path.open(
            "rb"
        ):  # tells why it cannot be opened, where SQLite only says that it cannot
            connection = sqlite3.connect(
                f"{self.path.absolute().as_uri()}?mode=ro&immutable=1",
                uri=True,
                check_same_thread=False,
            )
        connection.row_factory = sqlite3.Row
        return connection

    @property
    def connection(self) -> sqlite3.Connection:
        """This thread's connection."""
        existing: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if existing is None:
            existing = self._local.connection = self._another()
            existing.set_progress_handler(is_past, STEPS_BETWEEN_LOOKS)
        return existing

    def _another(self) -> sqlite3.Connection:
        if self._in_place():
            with suppress(OSError, sqlite3.OperationalError):
                connection = self._connect()
                if self._in_place():
                    return connection
                connection.close()
        return self._first

    def _in_place(self) -> bool:
        try:
            return Identity.of(self.path) == self.identity
        except StoreMissing:
            return False

    def _checked(self) -> dict[str, str]:
        """The facts of the build about itself, once it is known to be whole."""
        try:
            meta = dict(self._first.execute("SELECT key, value FROM meta").fetchall())
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            raise StoreDamaged(
                f"The store {self.path.name} cannot be read: {error}.", next_step=_RESTORE
            ) from error
        if meta.get("schema_version") != SCHEMA_VERSION:
            raise StoreOutdated(
                f"The store has schema {meta.get('schema_version')}, this program reads "
                f"{SCHEMA_VERSION}.",
                next_step="Rebuild with: reedgate load reference.",
            )
        written = meta.get(seal.KEY)
        if written is None:
            raise StoreDamaged(
                f"The store {self.path.name} has no seal, so it was not finished or was changed "
                "by hand.",
                next_step=_RESTORE,
            )
        if self._read_through and self._digest(written) != written:
            raise StoreDamaged(
                f"The store {self.path.name} does not fit its seal: it is damaged, cut short, or "
                "was written to after it was built.",
                next_step=_RESTORE,
            )
        return meta

    def _digest(self, written: str) -> str | None:
        try:
            with self.path.open("rb") as stream:
                found = seal.digest(stream, written)
                replaced = Identity.of_open(stream.fileno()) != self.identity
        except OSError as error:
            raise _unreadable(self.path, error) from error
        if replaced:
            raise StoreMissing(
                f"The store {self.path.name} was replaced while it was opened.",
                next_step="Try again.",
            )
        return found

    @cached_property
    def build_id(self) -> BuildId:
        """Content hash of all that went into the build."""
        return BuildId(self._meta["build_id"])

    def is_current(self) -> bool:
        """Whether the file at the path is still this build."""
        try:
            stat = self.path.stat()
        except OSError:
            return True
        # Asked at every request: the four are compared as they stand.
        known = self.identity
        return (
            stat.st_mtime_ns == known.modified_ns
            and stat.st_ino == known.inode
            and stat.st_size == known.size
            and stat.st_dev == known.device
        )

    def close(self) -> None:
        """Give the file back. Connections of other threads close with their threads."""
        existing: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if existing is not None:
            existing.close()
            self._local.connection = None
        self._first.close()
