"""Tables of records at ``https://`` and ``s3://`` addresses, brought here part by part.

A part comes whole or not at all: it goes on where it broke off, under the same tag, and what has
another tag meanwhile is not joined to what came before. Nothing of an address is shown, kept or
logged but its scheme, host and path: the rest may be a secret.

Credentials are those of the environment: ``AWS_ACCESS_KEY_ID`` and so on for ``s3://``, as for
published builds (``AWS_SKIP_SIGNATURE=true`` for a bucket that is open to all), and a netrc file
(``NETRC``, else in the home folder) for ``https://``.
"""

import hashlib
import ipaddress
import netrc
import os
import random
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Protocol
from urllib.parse import unquote, urlsplit

import httpx

from data_loaders.polite import RETRIED, Patience, asked_wait
from data_loaders.progress import Meter
from service.errors import BadFile, BadRequest
from service.store.objects import (
    BucketObjects,
    NoSuchObject,
    ObjectChanged,
    ObjectsAway,
    ObjectsClosed,
)

_WILD = re.compile(r"[*?\[]")
_AGENT = "reedgate"
_JITTER = random.Random()
PATIENCE = Patience()


@dataclass(frozen=True, slots=True)
class Listed:
    """A part as it is listed.

    Attributes:
        shown: its address without what may be a secret.
        key: by which the place that listed it finds it.
        tag: changes when its content does; empty where the place gives none.
        size: in bytes; None where the place does not say.
    """

    shown: str
    key: str
    tag: str
    size: int | None

    @property
    def name(self) -> str:
        """As a file."""
        return PurePosixPath(unquote(urlsplit(self.shown).path)).name or "records"

    @property
    def digest(self) -> str:
        """Of address and tag: by it a part, or a piece of it, that came before is known again."""
        return hashlib.sha256(f"{self.shown}\n{self.tag}\n{self.size}".encode()).hexdigest()[:24]


class BrokenOff(Exception):
    """A part did not come whole; it may the next time. ``wait_s`` is what the place asks for."""

    def __init__(self, why: str, wait_s: float = 0.0) -> None:
        super().__init__(why)
        self.wait_s = wait_s


class Place(Protocol):
    """Where parts lie."""

    @property
    def shown(self) -> str: ...

    def parts(self) -> list[Listed]:
        """The parts, in the order of their keys.

        Raises:
            BadFile: there are none, or they may not be read.
        """

    def pieces(self, part: Listed, start: int) -> Iterator[bytes]:
        """The bytes of a part from ``start`` on.

        Raises:
            BrokenOff: they stop coming.
            BadFile: the part is gone, may not be read, or is another one meanwhile.
        """


def place_at(address: str) -> Place:
    """What reads an address.

    Raises:
        BadRequest: it is of no kind that is read, or has a password in it.
    """
    parts = urlsplit(address)
    if "@" in parts.netloc:
        raise BadRequest(
            "An address holds no password.",
            next_step="Give credentials in the environment (AWS_ACCESS_KEY_ID and so on), or in a"
            " netrc file.",
        )
    if parts.scheme == "s3" and parts.netloc and parts.path.strip("/"):
        return Bucket(parts.netloc, unquote(parts.path.lstrip("/")))
    if parts.scheme == "https" or (parts.scheme == "http" and _is_here(parts.hostname or "")):
        return Web(address, PATIENCE)
    raise BadRequest(
        f"{_shown(address)} is not an address that records are read from.",
        next_step="Give https://host/file, or s3://bucket/ with a key, a prefix or a glob.",
    )


def bring(place: Place, part: Listed, folder: Path, meter: Meter) -> Path:
    """A part as a file in ``folder``; what is there of it already is not fetched again.

    Raises:
        BadFile: it does not come whole, or is another one meanwhile.
    """
    target = folder / part.digest / part.name
    if target.exists():
        return target
    target.parent.mkdir(parents=True, exist_ok=True)
    unfinished = target.with_name(f"{part.name}.unfinished")
    if not part.tag:
        unfinished.unlink(missing_ok=True)  # what it was begun from cannot be told
    problem, patience = "", PATIENCE
    for attempt in range(patience.attempts):
        wait_s = patience.backoff(attempt, _JITTER)
        try:
            with unfinished.open("ab") as out:
                for piece in place.pieces(part, out.tell()):
                    out.write(piece)
                    if part.size:
                        meter.stage("fetching", 0, out.tell() / part.size)
        except BrokenOff as error:
            problem, wait_s = str(error), max(wait_s, error.wait_s)
        except BadFile:
            unfinished.unlink(missing_ok=True)
            raise
        got = unfinished.stat().st_size
        if not problem and (part.size is None or got == part.size):
            unfinished.replace(target)
            return target
        if part.size is not None and got > part.size:
            unfinished.unlink()
        problem = problem or f"it ended after {got:,} of {part.size:,} bytes"
        if not part.tag:
            unfinished.unlink(missing_ok=True)
        if attempt + 1 < patience.attempts:
            time.sleep(wait_s)
            problem = ""
    raise BadFile(
        part.shown,
        f"it did not come whole in {patience.attempts} attempts: {problem}.",
        next_step="Run the same command again later; it goes on from where it stopped.",
    )


@dataclass
class Bucket:
    """Objects of an S3-compatible object store: one by its key, all below a prefix, or those that
    a glob fits.
    """

    bucket: str
    wanted: str
    _objects: BucketObjects = field(init=False)

    def __post_init__(self) -> None:
        self._objects = BucketObjects(self.bucket, "")

    @property
    def shown(self) -> str:
        return f"s3://{self.bucket}/{self.wanted}"

    def parts(self) -> list[Listed]:
        """See ``Place``."""
        wild = _WILD.search(self.wanted)
        with self._named(self.shown):
            if wild:
                folder = self.wanted[: wild.start()].rpartition("/")[0]
                fits = re.compile(_pattern(self.wanted)).fullmatch
                found = [one for one in self._objects.listed(folder) if fits(one.key)]
            elif self.wanted.endswith("/") or self._objects.size(self.wanted) is None:
                found = self._objects.listed(self.wanted.rstrip("/"))
                found = [one for one in found if not _is_hidden(one.key)]
            else:
                one_key = self.wanted
                folder = one_key.rpartition("/")[0]
                found = [one for one in self._objects.listed(folder) if one.key == one_key]
        parts = [
            Listed(f"s3://{self.bucket}/{one.key}", one.key, one.tag, one.size)
            for one in sorted(found, key=lambda one: one.key)
            if one.size
        ]
        if not parts:
            raise _nothing(self.shown)
        return parts

    def pieces(self, part: Listed, start: int) -> Iterator[bytes]:
        """See ``Place``."""
        with self._named(part.shown):
            try:
                yield from self._objects.from_byte(part.key, start, part.tag)
            except ObjectChanged as error:
                raise _changed(part.shown) from error
            except ObjectsClosed:
                raise
            except ObjectsAway as error:
                raise BrokenOff("the object store does not answer") from error

    @contextmanager
    def _named(self, shown: str) -> Iterator[None]:
        try:
            yield
        except NoSuchObject as error:
            raise _nothing(shown) from error
        except ObjectsClosed as error:
            raise _closed(shown, 403, "the AWS credentials in the environment") from error
        except ObjectsAway as error:
            raise BadFile(
                shown, "the object store does not answer.", next_step=error.next_step
            ) from error


class Web:
    """A file that a web server gives."""

    def __init__(self, address: str, patience: Patience) -> None:
        self._address = address
        self._patience = patience
        self.shown = _shown(address)
        self._client = httpx.Client(
            follow_redirects=True,
            auth=_netrc(),
            headers={"User-Agent": _AGENT, "Accept-Encoding": "identity"},
            timeout=httpx.Timeout(60.0, connect=10.0),
            event_hooks={"request": [_refuse_open_ways]},
        )

    def parts(self) -> list[Listed]:
        """See ``Place``. One part; of a server that has a list of files name each of them."""
        if _WILD.search(urlsplit(self._address).path) or self.shown.endswith("/"):
            raise BadFile(
                self.shown,
                "a web server does not say which files it has.",
                next_step="Name each file; prefixes and globs go with s3://.",
            )
        for attempt in range(self._patience.attempts):
            try:
                # One byte tells tag and size.
                with self._asked({"Range": "bytes=0-0"}) as response:
                    if response.status_code == 416:
                        raise BadFile(self.shown, "it is empty.")
                    return [Listed(self.shown, self._address, _tag(response), _size(response))]
            except BrokenOff as error:
                problem = str(error)
                if attempt + 1 < self._patience.attempts:
                    time.sleep(max(self._patience.backoff(attempt, _JITTER), error.wait_s))
        raise BadFile(self.shown, f"{problem}.", next_step="Run the same command again later.")

    def pieces(self, part: Listed, start: int) -> Iterator[bytes]:
        """See ``Place``."""
        headers = {"Range": f"bytes={start}-"} if start else {}
        if start and not part.tag.startswith("W/"):
            headers["If-Range"] = part.tag
        with self._asked(headers) as response:
            if response.status_code == 416 or _tag(response) != part.tag:
                raise _changed(self.shown)
            skip = start if response.status_code == 200 else 0
            try:
                for piece in response.iter_raw():
                    rest = piece[skip:]
                    skip -= len(piece) - len(rest)
                    if rest:
                        yield rest
            except (httpx.TransportError, httpx.DecodingError) as error:
                raise BrokenOff(f"the connection failed ({type(error).__name__})") from error

    @contextmanager
    def _asked(self, headers: dict[str, str]) -> Iterator[httpx.Response]:
        """An answer whose body is not read yet.

        Raises:
            BrokenOff: the server does not answer now; BadFile: it will not.
        """
        try:
            with self._client.stream("GET", self._address, headers=headers) as response:
                status = response.status_code
                if status in RETRIED:
                    wait_s = asked_wait(response, 0.0, self._patience, self.shown)
                    raise BrokenOff(f"it answered {status}", wait_s)
                if status in (401, 403):
                    raise _closed(self.shown, status, "a netrc file where the server asks for one")
                if status in (404, 410):
                    raise _nothing(self.shown)
                if status not in (200, 206, 416):
                    raise BadFile(self.shown, f"the server answered {status}.")
                yield response
        except httpx.InvalidURL as error:
            raise BadFile(self.shown, "this is no address.") from error
        except httpx.TransportError as error:
            # The library's own text may hold the whole address.
            raise BrokenOff(f"the connection failed ({type(error).__name__})") from error


def _shown(address: str) -> str:
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path}"


def _is_here(host: str) -> bool:
    """Whether a host is this machine, to which a connection needs no lock."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _refuse_open_ways(request: httpx.Request) -> None:
    """No redirect leads from https to where others can read and change what comes."""
    if request.url.scheme != "https" and not _is_here(request.url.host):
        raise BadFile(
            _shown(str(request.url)),
            "the address leads on to one without https.",
            next_step="Fetch the file yourself, if you trust it, and load that.",
        )


def _netrc() -> httpx.Auth | None:
    path = Path(os.environ.get("NETRC") or Path.home() / ".netrc")
    if not path.is_file():
        return None
    try:
        return httpx.NetRCAuth(str(path))
    except (netrc.NetrcParseError, OSError) as error:
        raise BadFile(path.name, "it cannot be read as a netrc file.") from error


def _tag(response: httpx.Response) -> str:
    headers = response.headers
    return str(headers.get("ETag") or headers.get("Last-Modified") or "")


def _size(response: httpx.Response) -> int | None:
    if response.status_code == 206:
        total = response.headers.get("Content-Range", "").rpartition("/")[2]
    else:
        total = response.headers.get("Content-Length", "")
    return int(total) if total.isdecimal() else None


def _pattern(glob: str) -> str:
    """A glob over keys as a regular expression: ``*`` stays within a folder, ``**`` does not."""
    return "".join(
        {"**/": "(.*/)?", "**": ".*", "*": "[^/]*", "?": "[^/]"}.get(
            token, token if token.startswith("[") else re.escape(token)
        )
        for token in re.findall(r"\*\*/|\*\*|\*|\?|\[[^\]]+\]|.", glob, re.DOTALL)
    )


def _is_hidden(key: str) -> bool:
    return PurePosixPath(key).name.startswith((".", "_"))


def _nothing(shown: str) -> BadFile:
    return BadFile(shown, "there is nothing at this address.", next_step="Check its spelling.")


def _closed(shown: str, status: int, what: str) -> BadFile:
    return BadFile(shown, f"it may not be read ({status}).", next_step=f"See {what}.")


def _changed(shown: str) -> BadFile:
    return BadFile(
        shown,
        "it changed while it was fetched.",
        next_step="The store is as it was. Run the same command again; that part is fetched anew.",
    )
