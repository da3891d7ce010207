"""Builds that are published to an object store, and the copy of the present one on this machine.

Under the address lie ``builds/<build id>-<hash>.db``, one a build, its description beside it as
``.json``, and ``current.json``, the pointer, which is the description of the build that servers
shall use. A build is put first and the pointer last, so that the pointer never names what is not
there.
"""

import fcntl
import hashlib
import logging
import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from service.errors import StoreDamaged, StoreError, StoreOutdated
from service.store.database import Build
from service.store.objects import Objects, ObjectsAway, objects_at
from service.store.schema import SCHEMA_VERSION

POINTER = "current.json"
BUILDS = "builds"
REFUSED_FOR_S = 30.0
"""How long a published build that was refused is not fetched again (common practice, no source);
another build is fetched at once.
"""

_log = logging.getLogger(__name__)


class Published(BaseModel):
    """A published build: what the pointer says."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    build_id: str = Field(pattern=r"^[0-9a-f]{8,64}$")
    key: str = Field(pattern=r"^builds/[A-Za-z0-9._-]+\.db$")
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")
    size: int = Field(gt=0)
    schema_version: str
    published: datetime


class _Copied(BaseModel):
    """Of what the copy is one: kept beside it, so that the next start need not fetch it again."""

    address: str
    etag: str
    published: Published
    modified_ns: int


class PublishedStore:
    """The store at an address, and its copy on this machine.

    Several processes of a machine may share the copy: one fetches, the others find it fetched.
    """

    def __init__(self, address: str, copy: Path, objects: Objects | None = None) -> None:
        self.address = address
        self.copy = copy
        self._objects = objects
        self._refused: tuple[str, float, StoreError] | None = None

    def take_up(self) -> bool:
        """Bring the copy to the build that the pointer names. Whether it was changed.

        The copy stays as it was where anything is wrong.

        Raises:
            ObjectsAway: the object store does not answer.
            NoSuchObject: nothing is published there, or the build that the pointer names is gone.
            StoreDamaged: the pointer cannot be read, or what was fetched is not what it says.
            StoreOutdated: the build is of another version of this program.
        """
        objects = self._objects = self._objects or objects_at(self.address)
        with self._turn():
            copied = self._copied()
            known = self._refused_etag() or (copied.etag if copied else None)
            found = objects.get(POINTER, known)
            if found is None:
                if self._refused is not None and known == self._refused[0]:
                    raise self._refused[2]
                return False
            try:
                return self._take(objects, found.content, found.etag, copied)
            except ObjectsAway:
                raise
            except StoreError as error:
                self._refused = (found.etag, time.monotonic() + REFUSED_FOR_S, error)
                raise

    def _take(self, objects: Objects, content: bytes, etag: str, copied: _Copied | None) -> bool:
        published = read_pointer(content)
        if published.schema_version != SCHEMA_VERSION:
            raise StoreOutdated(
                f"The published build {published.build_id} has schema {published.schema_version},"
                f" this program reads {SCHEMA_VERSION}.",
                next_step="Publish a build made by this version, or update this program.",
            )
        is_same = copied is not None and copied.published.sha256 == published.sha256
        if not is_same:
            self._fetch(objects, published)
        self._refused = None
        self._write_copied(etag, published)
        return not is_same

    def _fetch(self, objects: Objects, published: Published) -> None:
        draft = self.copy.with_name(f".{self.copy.name}.fetched")
        try:
            hashed = hashlib.sha256()
            with draft.open("wb") as written:
                for piece in objects.pieces(published.key, published.size):
                    hashed.update(piece)
                    written.write(piece)
                written.flush()
                os.fsync(written.fileno())
                fetched = written.tell()
            if fetched != published.size or hashed.hexdigest() != published.sha256:
                raise StoreDamaged(
                    f"The published build {published.build_id} is not what its pointer says: "
                    f"{fetched:,} bytes of {published.size:,}, or other content.",
                    next_step="Publish it again.",
                )
            build = Build(draft)  # which looks at its seal
            try:
                found_id = build.build_id
            finally:
                build.close()
            if found_id != published.build_id:
                raise StoreDamaged(
                    f"The pointer names build {published.build_id}, and the file is {found_id}.",
                    next_step="Publish it again.",
                )
            draft.replace(self.copy)
        except OSError as error:
            raise StoreError(
                f"The published build could not be written here: {os.strerror(error.errno or 0)}.",
                next_step="Make room on the disk, or name another place: REEDGATE_STORE_COPIES.",
            ) from error
        finally:
            with suppress(OSError):
                draft.unlink(missing_ok=True)

    def _refused_etag(self) -> str | None:
        if self._refused is None or time.monotonic() >= self._refused[1]:
            return None
        return self._refused[0]

    @property
    def _note(self) -> Path:
        return self.copy.with_name(f"{self.copy.name}.published.json")

    def _copied(self) -> _Copied | None:
        """What the copy is, unless it is missing, was written to, or is of another address."""
        try:
            copied = _Copied.model_validate_json(self._note.read_bytes())
            stat = self.copy.stat()
        except (OSError, ValidationError):
            return None
        state = (copied.address, copied.published.size, copied.modified_ns)
        return copied if state == (self.address, stat.st_size, stat.st_mtime_ns) else None

    def _write_copied(self, etag: str, published: Published) -> None:
        copied = _Copied(
            address=self.address,
            etag=etag,
            published=published,
            modified_ns=self.copy.stat().st_mtime_ns,
        )
        draft = self._note.with_name(f".{self._note.name}.draft")
        draft.write_text(copied.model_dump_json(indent=1) + "\n", encoding="utf-8")
        draft.replace(self._note)

    @contextmanager
    def _turn(self) -> Iterator[None]:
        try:
            self.copy.parent.mkdir(parents=True, exist_ok=True)
            stream = self.copy.with_name(f".{self.copy.name}.lock").open("w")
        except OSError as error:
            raise StoreError(
                f"The copy of the store cannot be kept: {os.strerror(error.errno or 0)}.",
                next_step="Name a place that this account may write to: REEDGATE_STORE_COPIES.",
            ) from error
        with stream:
            fcntl.flock(stream, fcntl.LOCK_EX)
            yield


def read_pointer(content: bytes) -> Published:
    """The pointer, or a build's description.

    Raises:
        StoreDamaged: it is none.
    """
    try:
        return Published.model_validate_json(content)
    except ValidationError as error:
        raise StoreDamaged(
            "The pointer to the published build cannot be read.",
            next_step="Publish again: reedgate publish.",
        ) from error


class Follower:
    """Looks again and again, in a thread of its own, whether another build was published."""

    def __init__(self, store: PublishedStore, every_s: float) -> None:
        self._store = store
        self._every_s = every_s
        self._stop = threading.Event()
        self.trouble: StoreError | None = None
        """What went wrong the last time; None when nothing did."""

    def start(self) -> "Follower":
        """Begin to follow; the thread ends with the process."""
        threading.Thread(target=self._follow, name="published", daemon=True).start()
        return self

    def stop(self) -> None:
        """Stop following."""
        self._stop.set()

    def look(self) -> None:
        """Look once."""
        try:
            if self._store.take_up():
                _log.info("a published build was taken up")
            trouble = None
        except StoreError as error:
            trouble = error
        except Exception as error:  # the thread must outlive whatever comes
            _log.exception("following the published store failed")
            trouble = StoreError(f"The published store cannot be followed: {type(error).__name__}.")
        if trouble is not None and str(trouble) != str(self.trouble):
            _log.warning("the published store cannot be taken up: %s", trouble)
        self.trouble = trouble

    def _follow(self) -> None:
        self.look()
        while not self._stop.wait(self._every_s):
            self.look()
