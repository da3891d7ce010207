"""Object stores, as far as published builds need them: a folder (``file://``) or a bucket of an
S3-compatible store (``s3://``).

A bucket is talked to by obstore. Credentials, region and endpoint come from the environment, as
``AWS_ACCESS_KEY_ID``, ``AWS_SECRET_ACCESS_KEY``, ``AWS_REGION`` and ``AWS_ENDPOINT_URL``, or from
the machine's or container's role; they are never on a command line, in an address or in a log.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any, Protocol
from urllib.parse import unquote, urlsplit

from service.errors import BadRequest, StoreError

_PIECE = 8_388_608
"""Bytes asked for at once; each piece is tried again by itself."""
_ANSWERS_S = 60
_TRIES = 3
_TRIES_END_S = 20
"""How long one request may take, how often it is tried and how long in all (common practice, no
source)."""


_SEE_ENVIRONMENT = (
    "See AWS_ENDPOINT_URL, AWS_REGION, the credentials in the environment, and that they may use"
    " the bucket."
)


class ObjectsAway(StoreError):
    """The object store does not answer, or does not let us in."""

    title = "The object store cannot be reached"


class ObjectsClosed(ObjectsAway):
    """The object store answers, and does not let us in."""


class ObjectChanged(StoreError):
    """An object is another one than it was."""

    title = "An object has changed"


class NoSuchObject(StoreError):
    """The object store answers, and has no such object."""

    title = "An object is not there"


@dataclass(frozen=True, slots=True)
class Object:
    """An object as it is listed."""

    key: str
    size: int
    tag: str


@dataclass(frozen=True)
class Found:
    """An object's content, and its entity tag, by which it is asked for again."""

    content: bytes
    etag: str


class Objects(Protocol):
    """Objects under one address, by key.

    Every method raises ``ObjectsAway`` where the object store does not answer.
    """

    def get(self, key: str, unless: str | None = None) -> Found | None:
        """An object; None where its entity tag is still ``unless``.

        Raises:
            NoSuchObject: there is none.
        """

    def pieces(self, key: str, size: int) -> Iterator[bytes]:
        """The first ``size`` bytes of an object, in pieces.

        Raises:
            NoSuchObject: there is none.
        """

    def size(self, key: str) -> int | None:
        """Bytes of an object; None where there is none."""

    def put(self, key: str, content: bytes | Path) -> None:
        """Put an object, whole or not at all, in place of one of that key."""

    def keys(self, under: str) -> list[str]:
        """Keys of the objects in a folder, sorted."""

    def remove(self, key: str) -> None:
        """Take an object away, if it is there."""


def objects_at(address: str) -> Objects:
    """The object store at an address.

    Raises:
        BadRequest: no address of a kind that is known, or one with a password in it.
    """
    parts = urlsplit(address)
    if "@" in parts.netloc:
        raise BadRequest(
            "An address holds no password.",
            next_step="Give credentials in the environment: AWS_ACCESS_KEY_ID and so on.",
        )
    if parts.scheme == "file" and parts.netloc in ("", "localhost") and parts.path:
        return FolderObjects(Path(unquote(parts.path)))
    if parts.scheme == "s3" and parts.netloc:
        return BucketObjects(parts.netloc, parts.path.strip("/"))
    raise BadRequest(
        f"{address!r} is not the address of an object store.",
        next_step="Give s3://bucket/prefix or file:///folder.",
    )


class FolderObjects:
    """A folder, on this machine or mounted on several."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def get(self, key: str, unless: str | None = None) -> Found | None:
        """See ``Objects``."""
        with self._answering(key), (self._folder / key).open("rb") as stream:
            stat = os.fstat(stream.fileno())
            etag = f"{stat.st_ino}-{stat.st_size}-{stat.st_mtime_ns}"
            return None if etag == unless else Found(stream.read(), etag)

    def pieces(self, key: str, size: int) -> Iterator[bytes]:
        """See ``Objects``."""
        with self._answering(key), (self._folder / key).open("rb") as stream:
            while size > 0 and (piece := stream.read(min(_PIECE, size))):
                size -= len(piece)
                yield piece

    def size(self, key: str) -> int | None:
        """See ``Objects``."""
        try:
            with self._answering(key):
                return (self._folder / key).stat().st_size
        except NoSuchObject:
            return None

    def put(self, key: str, content: bytes | Path) -> None:
        """See ``Objects``."""
        target = self._folder / key
        draft = target.with_name(f".{target.name}.draft-{os.getpid()}")
        try:
            with self._answering(key):
                target.parent.mkdir(parents=True, exist_ok=True)
                with draft.open("wb") as written:
                    for piece in _pieces_of(content):
                        written.write(piece)
                    written.flush()
                    os.fsync(written.fileno())
                draft.replace(target)
        finally:
            draft.unlink(missing_ok=True)

    def keys(self, under: str) -> list[str]:
        """See ``Objects``."""
        with self._answering(under):
            folder = self._folder / under
            found = folder.iterdir() if folder.is_dir() else ()
            return sorted(f"{under}/{path.name}" for path in found if path.name[0] != ".")

    def remove(self, key: str) -> None:
        """See ``Objects``."""
        with self._answering(key):
            (self._folder / key).unlink(missing_ok=True)

    @contextmanager
    def _answering(self, key: str) -> Iterator[None]:
        try:
            yield
        except FileNotFoundError as error:
            raise _no_such(key) from error
        except OSError as error:
            raise ObjectsAway(
                f"The folder of published builds does not answer: {os.strerror(error.errno or 0)}.",
                next_step="See that it is mounted, has room, and that this account may use it.",
            ) from error


class BucketObjects:
    """A bucket of an S3-compatible object store, from a prefix on."""

    def __init__(self, bucket: str, prefix: str) -> None:
        try:
            import obstore
            from obstore import exceptions
            from obstore.store import S3Store
        except ImportError as error:
            raise StoreError(
                "s3:// takes a library that is not installed.",
                next_step="Install it: pip install 'reedgate[s3]'.",
            ) from error
        self._obstore, self._failures = obstore, exceptions
        endpoint = os.environ.get("AWS_ENDPOINT_URL_S3") or os.environ.get("AWS_ENDPOINT_URL")
        given: dict[str, Any] = {"endpoint": endpoint} if endpoint else {}
        # A store of objects on the same network is often reached without TLS; the operator says
        # so by the endpoint's own scheme.
        plain = bool(endpoint and endpoint.startswith("http://"))
        self._bucket = S3Store(
            bucket,
            prefix=prefix or None,
            **given,
            client_options={
                "allow_http": plain,
                "connect_timeout": timedelta(seconds=5),
                "timeout": timedelta(seconds=_ANSWERS_S),
            },
            retry_config={
                "max_retries": _TRIES,
                "retry_timeout": timedelta(seconds=_TRIES_END_S),
            },
        )

    def get(self, key: str, unless: str | None = None) -> Found | None:
        """See ``Objects``."""
        try:
            with self._answering(key):
                found = self._obstore.get(
                    self._bucket, key, options={"if_none_match": unless} if unless else {}
                )
                return Found(bytes(found.bytes()), found.meta["e_tag"] or "")
        except _Unchanged:
            return None

    def pieces(self, key: str, size: int) -> Iterator[bytes]:
        """See ``Objects``."""
        for start in range(0, size, _PIECE):
            with self._answering(key):
                piece = self._obstore.get_range(
                    self._bucket, key, start=start, length=min(_PIECE, size - start)
                )
            yield bytes(piece)

    def size(self, key: str) -> int | None:
        """See ``Objects``."""
        try:
            with self._answering(key):
                return int(self._obstore.head(self._bucket, key)["size"])
        except NoSuchObject:
            return None

    def put(self, key: str, content: bytes | Path) -> None:
        """See ``Objects``."""
        with self._answering(key):
            self._obstore.put(self._bucket, key, content)

    def keys(self, under: str) -> list[str]:
        """See ``Objects``."""
        with self._answering(under):
            pages = self._obstore.list(self._bucket, under)
            return sorted(found["path"] for page in pages for found in page)

    def listed(self, under: str) -> list[Object]:
        """Every object in a folder and those below it.

        Raises:
            ObjectsClosed, ObjectsAway: they cannot be listed.
        """
        with self._answering(under):
            pages = self._obstore.list(self._bucket, under or None, chunk_size=1_000)
            return [
                Object(found["path"], int(found["size"]), found["e_tag"] or "")
                for page in pages
                for found in page
            ]

    def from_byte(self, key: str, start: int, tag: str) -> Iterator[bytes]:
        """The bytes of an object from one on, as long as it is still the one of the tag.

        Raises:
            ObjectChanged: it is another one.
            NoSuchObject, ObjectsClosed, ObjectsAway: it cannot be read.
        """
        options: Any = {"if_match": tag} if tag else {}
        if start:
            options["range"] = {"offset": start}
        with self._answering(key):
            found = self._obstore.get(self._bucket, key, options=options)
            for piece in found.stream(min_chunk_size=_PIECE):
                yield bytes(piece)

    def remove(self, key: str) -> None:
        """See ``Objects``."""
        with self._answering(key):
            self._obstore.delete(self._bucket, key)

    @contextmanager
    def _answering(self, key: str) -> Iterator[None]:
        try:
            yield
        except self._failures.NotModifiedError as error:
            raise _Unchanged from error
        except (FileNotFoundError, self._failures.NotFoundError) as error:
            raise _no_such(key) from error
        except self._failures.PreconditionError as error:
            raise ObjectChanged(f"{key} is another object than it was.") from error
        except (
            PermissionError,
            self._failures.PermissionDeniedError,
            self._failures.UnauthenticatedError,
        ) as error:
            raise ObjectsClosed(
                "The object store does not let us in.", next_step=_SEE_ENVIRONMENT
            ) from error
        except (self._failures.BaseError, OSError) as error:
            # Of a list the library tells the status in its text alone.
            if "404 Not Found" in str(error):
                raise _no_such(key) from error
            if "403 Forbidden" in str(error):
                raise ObjectsClosed(
                    "The object store does not let us in.", next_step=_SEE_ENVIRONMENT
                ) from error
            # The library's own text may hold a signed address, so it is not passed on.
            raise ObjectsAway(
                f"The object store does not answer ({type(error).__name__}).",
                next_step=_SEE_ENVIRONMENT,
            ) from error


class _Unchanged(Exception):
    """The object is what it was."""


def _no_such(key: str) -> NoSuchObject:
    return NoSuchObject(f"The object store has no {key}.", next_step="First: reedgate publish.")


def _pieces_of(content: bytes | Path) -> Iterator[bytes]:
    if isinstance(content, bytes):
        yield content
        return
    with content.open("rb") as stream:
        while piece := stream.read(_PIECE):
            yield piece
