"""One atomic build of the store: a temporary file beside the target, checks, then one replace.

A load that fails, is interrupted or is killed leaves the old store as it was. Two loads at once
take turns.
"""

import errno
import fcntl
import hashlib
import json
import os
import shutil
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import astuple, dataclass, field
from pathlib import Path

import sqlite_utils

from service.errors import StoreError, StoreMissing
from service.store import seal
from service.store.database import Build, Identity
from service.store.schema import SCHEMA_VERSION, create_tables

Check = Callable[[sqlite3.Connection], None]
"""Raises StoreError when the finished build is not what its inputs promise."""


@dataclass
class Draft:
    """A build in the making.

    ``db`` is open for writing; nobody else sees it until it is finished.
    """

    db: sqlite_utils.Database
    checks: list[Check] = field(default_factory=list)
    appends: tuple[str, ...] = ()

    @property
    def connection(self) -> sqlite3.Connection:
        return self.db.conn

    def expect_count(
        self, table: str, count: int, *, where: str = "1", arguments: tuple[object, ...] = ()
    ) -> None:
        """Refuse the build unless ``table`` holds exactly ``count`` rows where the condition
        holds.
        """

        def check(connection: sqlite3.Connection) -> None:
            found = self.db.table(table).count_where(where, list(arguments))
            if found != count:
                raise StoreError(
                    f"The build holds {found} rows in {table} where its inputs have {count}."
                )

        self.checks.append(check)

    def run_checks(self) -> None:
        """Run the checks asked for so far, and have done with them.

        Raises:
            StoreError: the draft fails one.
        """
        checks, self.checks = self.checks, []
        for check in checks:
            check(self.connection)


def file_sha256(*paths: Path) -> str:
    """Content hash of a file, or of several one after the other, read in pieces."""
    digest = hashlib.sha256()
    for path in paths:
        with path.open("rb") as stream:
            while piece := stream.read(1 << 20):
                digest.update(piece)
    return digest.hexdigest()


def bytes_sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


@contextmanager
def drafting(target: Path, *, on_top: bool, appends: tuple[str, ...] = ()) -> Iterator[Draft]:
    """Draft a new build for ``target`` and put it in place when the block ends without an error.

    Args:
        on_top: begin with a copy of the present store; otherwise with empty tables.
        appends: large tables to which rows are added at the end and of which none is changed: what
            they have was checked when it was added, and the seal has guarded it since.

    Raises:
        StoreMissing: ``on_top`` and there is no store.
        StoreError: the draft fails a check.
    """
    with _disk_errors_named(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        with _exclusive_lock(target):
            for left_over in target.parent.glob(f".{target.name}.draft-*"):
                left_over.unlink(missing_ok=True)
            draft_path = target.parent / f".{target.name}.draft-{os.getpid()}"
            try:
                yield from _draft(target, draft_path, on_top, appends if on_top else ())
            finally:
                for suffix in ("", "-journal", "-wal", "-shm"):
                    with suppress(FileNotFoundError):
                        Path(f"{draft_path}{suffix}").unlink()


_NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS})
_SQLITE_NO_ROOM = frozenset(
    {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN}
)


@contextmanager
def _disk_errors_named(target: Path) -> Iterator[None]:
    """A full disk, a read-only one, or a folder that may not be written to, reported as an error of
    the store.
    """
    try:
        yield
    except (OSError, sqlite3.Error) as error:
        if not _is_disk_full(error, target):
            raise
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise StoreError(
            f"The store {target.name} could not be written: {why}.",
            next_step="The store is as it was. Make room on the disk, or let this account write"
            " to the folder, and load again.",
        ) from error


def disk_error(said: str) -> OSError | None:
    """What another program says of a disk without room, or that may not be written to, as the error
    that ``drafting`` names; None where it speaks of something else.
    """
    for number in sorted(_NO_ROOM):
        if os.strerror(number).lower() in said.lower():
            return OSError(number, os.strerror(number))
    return None


def _is_disk_full(error: OSError | sqlite3.Error, target: Path) -> bool:
    if isinstance(error, sqlite3.Error):
        return getattr(error, "sqlite_errorcode", 0) & 0xFF in _SQLITE_NO_ROOM
    ours = Path(str(error.filename)).parent == target.parent if error.filename else False
    return error.errno in _NO_ROOM or (isinstance(error, PermissionError) and ours)


def _draft(
    target: Path, draft_path: Path, on_top: bool, appends: tuple[str, ...]
) -> Iterator[Draft]:
    before = _copy(target, draft_path) if on_top else None
    if not appends:
        before = None  # most of the file is written anew
    connection = sqlite3.connect(draft_path.absolute().as_uri(), uri=True)
    changed: set[int] = set()
    try:
        connection.execute("PRAGMA synchronous = OFF")
        if before is None:
            connection.execute("PRAGMA journal_mode = OFF")
        else:  # the log names the pages that are written to
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")
            connection.execute("PRAGMA wal_autocheckpoint = 0")
            connection.execute("PRAGMA journal_mode = WAL")
        if not on_top:
            create_tables(connection)
        draft = Draft(sqlite_utils.Database(connection), appends=appends)
        yield draft
        _finish(draft)
        if before is not None:
            changed = _written_to(Path(f"{draft_path}-wal"))
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
            connection.execute("PRAGMA journal_mode = DELETE").fetchall()
    finally:
        connection.close()
    _, pieces = seal.seal(draft_path, before, changed)
    with draft_path.open("rb") as finished:
        os.fsync(finished.fileno())
    draft_path.replace(target)
    keep_pieces(target, pieces)


def _copy(target: Path, draft_path: Path) -> seal.Pieces | None:
    """The present store as a draft, its seal opened; a store that does not fit its seal is not
    built upon. Of a large store that nothing has written to since it was sealed the pieces are
    given, and it is not read through: what is damaged of it will not fit the new seal either.
    """
    if not target.exists():
        raise StoreMissing(
            f"There is no store at {target.name}.", next_step="First: reedgate load reference."
        )
    present_build(target).close()
    pieces = kept_pieces(target)
    shutil.copyfile(target, draft_path)
    threading.Thread(target=_flush, args=[draft_path], name="flush", daemon=True).start()
    return pieces


def _flush(path: Path) -> None:
    """Let the disk take a copy while the load goes on, so that in the end only what changed of it
    is waited for.
    """
    with suppress(OSError), path.open("rb") as copied:
        os.fsync(copied.fileno())


def present_build(target: Path) -> Build:
    """The build that a load adds to.

    Raises:
        StoreMissing, StoreOutdated, StoreDamaged: as ``Build``.
    """
    return Build(target, read_through=kept_pieces(target) is None)


def _written_to(log: Path) -> set[int]:
    """Numbers of the pieces of a file that the pages in its write-ahead log belong to (SQLite file
    format, 4.1 and 4.2), and of the first, whose head is changed last.
    """
    found = {0}
    with log.open("rb") as stream:
        head = stream.read(32)
        if len(head) < 32:
            return found
        page_bytes = int.from_bytes(head[8:12], "big")
        while len(frame := stream.read(24)) == 24:
            page = int.from_bytes(frame[:4], "big")
            found.add((page - 1) * page_bytes // seal.PIECE_BYTES)
            stream.seek(page_bytes, os.SEEK_CUR)
    return found


PIECES_FROM_BYTES = 64 << 20
"""Of a smaller store the pieces are not kept: to hash it takes no time."""


def _pieces_path(target: Path) -> Path:
    return target.with_name(f".{target.name}.pieces")


def keep_pieces(target: Path, pieces: seal.Pieces) -> None:
    """Note the pieces of a store that was just sealed, for the next load."""
    identity = Identity.of(target)
    path = _pieces_path(target)
    if identity.size < PIECES_FROM_BYTES:
        path.unlink(missing_ok=True)
        return
    content = {
        "identity": astuple(identity),
        "places": pieces.places,
        "digests": b"".join(pieces.digests).hex(),
    }
    path.write_text(json.dumps(content), encoding="utf-8")


def kept_pieces(target: Path) -> seal.Pieces | None:
    """The pieces noted of a store; None where it may have been written to since, or is another."""
    try:
        content = json.loads(_pieces_path(target).read_text(encoding="utf-8"))
        if tuple(content["identity"]) != astuple(Identity.of(target)):
            return None
        joined = bytes.fromhex(content["digests"])
        digests = tuple(joined[at : at + 32] for at in range(0, len(joined), 32))
        return seal.Pieces(digests, tuple(content["places"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _finish(draft: Draft) -> None:
    connection = draft.connection
    meta = {"schema_version": SCHEMA_VERSION, "build_id": _build_id(draft.db), seal.KEY: seal.OPEN}
    draft.db.table("meta").upsert_all(
        [{"key": key, "value": value} for key, value in meta.items()], pk="key"
    )
    connection.commit()
    broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    if broken:
        raise StoreError(
            f"The build has {len(broken)} rows that point nowhere, the first in {broken[0][0]}."
        )
    for what in _to_check(draft):
        integrity = connection.execute(f"PRAGMA integrity_check({what})").fetchone()[0]
        if integrity != "ok":
            raise StoreError(f"The build fails its integrity check: {integrity}.")
    draft.run_checks()
    connection.execute("PRAGMA optimize")
    connection.commit()


def _to_check(draft: Draft) -> list[str]:
    """The whole build, or its tables but those to which was only added."""
    if not draft.appends:
        return ["1"]
    rows = draft.connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND sql NOT LIKE 'CREATE VIRTUAL%'"
    )
    return [name for (name,) in rows.fetchall() if name not in draft.appends]


def _build_id(db: sqlite_utils.Database) -> str:
    digest = hashlib.sha256(f"schema {SCHEMA_VERSION}\n".encode())
    for row in db.table("source").rows_where(order_by="source_id"):
        digest.update(f"{row['source_id']}\t{row['kind']}\t{row['sha256']}\n".encode())
    return digest.hexdigest()[:16]


@contextmanager
def _exclusive_lock(target: Path) -> Iterator[None]:
    lock = target.parent / f".{target.name}.lock"
    with lock.open("w") as stream:
        fcntl.flock(stream, fcntl.LOCK_EX)
        yield
