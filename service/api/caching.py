"""Conditional requests (RFC 9110, 13) and answers kept for the next who asks the same.

The same request on the same build and day gives the same bytes, so the entity tag is made from
those, not from the answer: a client that still holds it is told so before anything is worked out.
"""

import hashlib
import re
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache, partial
from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable

from fastapi.concurrency import run_in_threadpool
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.heads import header
from service.api.metrics import Metrics
from service.api.negotiation import takes_gzip
from service.errors import StoreError
from service.input.person import pin_day, today
from service.settings import Settings
from service.store.library import Library, StoreHandle

_ANSWERS = "/v1/"
_NEVER = ("/health/", "/metrics", "/v1/jobs/")
"""Answers that change with the moment."""
_LARGEST_KEPT = 262_144
_TAG = re.compile(r'(?:W/)?("[^"]*")')
_VARY = "Accept, Accept-Encoding"


_Asked = tuple[bytes, ...]
"""All that decides an answer: build, day, path, query, and what the client takes."""


@dataclass(frozen=True, slots=True)
class _Kept:
    """An answer, ready to send."""

    headers: tuple[tuple[bytes, bytes], ...]
    body: bytes


class _Shelf:
    """Answers by what was asked, the longest unused thrown out first."""

    def __init__(self, limit_bytes: int) -> None:
        self._limit = limit_bytes
        self._size = 0
        self._kept: OrderedDict[_Asked, _Kept] = OrderedDict()

    def get(self, asked: _Asked) -> _Kept | None:
        kept = self._kept.get(asked)
        if kept is not None:
            self._kept.move_to_end(asked)
        return kept

    def put(self, asked: _Asked, kept: _Kept) -> None:
        if asked in self._kept or len(kept.body) > min(_LARGEST_KEPT, self._limit):
            return
        self._kept[asked] = kept
        self._size += _weight(asked, kept)
        while self._size > self._limit:
            self._size -= _weight(*self._kept.popitem(last=False))


def _weight(asked: _Asked, kept: _Kept) -> int:
    # The last is headers and the books; measured, rounded up.
    return len(kept.body) + sum(map(len, asked)) + 1_200


class Caching:
    """Gives tags to answers, 304 to those who hold them, and kept answers to those who ask again.

    Answers HEAD by way of GET.
    """

    def __init__(
        self, app: ASGIApp, store: StoreHandle, config: Settings, metrics: Metrics
    ) -> None:
        self._app = app
        self._store = store
        self._config = config
        self._not_modified = metrics.reused.labels("not-modified")
        self._given_again = metrics.reused.labels("kept")
        self._shelf = _Shelf(config.response_cache_mb * 1_000_000)
        self._salted = hashlib.sha256(
            f"{version('reedgate')} {_program_digest()} {config.model_dump_json()}".encode()
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        codings = header(scope, b"accept-encoding")
        coding = b"gzip" if codings and takes_gzip(codings) else b"identity"
        if codings is not None:
            scope["headers"] = [
                (name, coding if name == b"accept-encoding" else value)
                for name, value in scope["headers"]
            ]
        if scope["method"] == "HEAD":
            # A copy: the server looks at its own for whether a body is to follow.
            scope = {**scope, "method": "GET"}
            send = _without_body(send)
        day = pin_day()
        library = await self._library(scope["path"])
        scope.setdefault("state", {})["library"] = library
        if scope["method"] != "GET" or scope["path"].startswith(_NEVER):
            await self._app(scope, receive, send)
            return
        known_tags = header(scope, b"if-none-match") or ""
        fresh = self._freshness(day)
        asked, tag = None, None
        if library is not None and scope["path"].startswith(_ANSWERS):
            asked = _asked(scope, library, coding)
            kept = self._shelf.get(asked)
            if known_tags or kept is None:
                tag = self._tag(asked)
            if (
                tag
                and known_tags
                and (tag in _TAG.findall(known_tags) or (known_tags.strip() == "*" and kept))
            ):
                self._not_modified.inc()
                await _send_not_modified(send, tag, fresh, kept.headers if kept else ())
                return
            if kept is not None:
                self._given_again.inc()
                headers_now = [*kept.headers, (b"cache-control", fresh.encode())]
                await send({"type": "http.response.start", "status": 200, "headers": headers_now})
                await send({"type": "http.response.body", "body": kept.body})
                return
        keep = partial(self._shelf.put, asked) if asked is not None else None
        await self._app(scope, receive, _Tagging(send, keep, tag, known_tags, fresh).send)

    async def _library(self, path: str) -> Library | None:
        """The library that this request is answered from; None where there is none to be had,
        which the route tells.
        """
        if path.startswith((*_NEVER, "/static/")) or path == "/openapi.json":
            return None
        try:
            return self._store.cached() or await run_in_threadpool(self._store.current)
        except StoreError:
            return None

    def _tag(self, asked: _Asked) -> str:
        hashed = self._salted.copy()
        hashed.update(b"\0".join((b"", *asked)))
        return f'"{hashed.hexdigest()[:32]}"'

    def _freshness(self, day: datetime) -> str:
        scope = "private" if self._config.require_token else "public"
        if not self._config.cache_seconds:
            return f"{scope}, no-cache"
        midnight = datetime.combine(day.date() + timedelta(days=1), datetime.min.time(), UTC)
        left_s = int((midnight - day).total_seconds())
        return f"{scope}, max-age={max(0, min(self._config.cache_seconds, left_s))}"


def _asked(scope: Scope, library: Library, coding: bytes) -> _Asked:
    return (
        library.build_id.encode(),
        today().isoformat().encode(),
        scope["path"].encode(),
        scope["query_string"],
        (header(scope, b"accept") or "").encode(),
        coding,
    )


class Compressing(GZipMiddleware):
    """Compresses for those who take it; ``Caching`` has decided who does. Others pay nothing for
    it.
    """

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and (b"accept-encoding", b"gzip") in scope["headers"]:
            await super().__call__(scope, receive, send)
        else:
            await self.app(scope, receive, send)


class _Tagging:
    """Passes an answer on with its tag, and keeps it."""

    def __init__(
        self,
        send: Send,
        keep: Callable[[_Kept], None] | None,
        tag: str | None,
        known_tags: str,
        fresh: str,
    ) -> None:
        self._send = send
        self._keep = keep
        self._tag = tag
        self._known_tags = known_tags
        self._fresh = fresh
        self._start: Message | None = None
        self._dropping = False

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start" and message["status"] == 200:
            self._start = message
        elif self._dropping:
            return
        elif message["type"] == "http.response.body" and self._start is not None:
            await self._first(self._start, message)
        else:
            await self._send(message)

    async def _first(self, start: Message, message: Message) -> None:
        """The head and the first piece of the body; of most answers, the whole."""
        self._start = None
        whole = not message.get("more_body", False)
        body = message.get("body", b"")
        given = dict(start["headers"])
        tag = (
            self._tag
            or given.get(b"etag", b"").decode()
            or (f'"{hashlib.sha256(body).hexdigest()[:32]}"' if whole else None)
        )
        headers = [pair for pair in start["headers"] if pair[0] not in (b"etag", b"vary")]
        headers += [(b"etag", tag.encode())] if tag else []
        headers.append((b"vary", _with_vary(given.get(b"vary", b""))))
        start["headers"] = headers
        if tag and (self._known_tags.strip() == "*" or tag in _TAG.findall(self._known_tags)):
            self._dropping = True
            await _send_not_modified(self._send, tag, self._fresh, tuple(start["headers"]))
            return
        if whole and self._keep:
            self._keep(_Kept(tuple(headers), body))
        if b"cache-control" not in given:
            headers.append((b"cache-control", self._fresh.encode()))
        await self._send(start)
        await self._send(message)


@lru_cache(maxsize=100)
def _with_vary(given: bytes) -> bytes:
    named = [name.strip() for name in given.decode().split(",") if name.strip()]
    return ", ".join(dict.fromkeys([*_VARY.split(", "), *named])).encode()


_OF_THE_BODY = frozenset((b"content-length", b"content-encoding", b"transfer-encoding"))


async def _send_not_modified(
    send: Send, tag: str, fresh: str, of_answer: tuple[tuple[bytes, bytes], ...] = ()
) -> None:
    """304 with the headers that the 200 would have (RFC 9110, 15.4.5): a browser puts them in the
    place of those it has kept, so a policy for another kind of answer would be taken for the
    page's own.
    """
    headers = {
        b"cache-control": fresh.encode(),
        b"vary": _VARY.encode(),
        **{name: value for name, value in of_answer if name not in _OF_THE_BODY},
        b"etag": tag.encode(),
    }
    await send({"type": "http.response.start", "status": 304, "headers": [*headers.items()]})
    await send({"type": "http.response.body", "body": b""})


def _without_body(send: Send) -> Send:
    async def head_only(message: Message) -> None:
        if message["type"] == "http.response.body":
            message = {**message, "body": b""}
        await send(message)

    return head_only


def _program_digest() -> str:
    """A hash of the program's own files, so that an answer of another program is never taken for
    one of this.
    """
    hashed = hashlib.sha256()
    for entry in _program_files(files("service")):
        hashed.update(entry.read_bytes())
    return hashed.hexdigest()[:16]


def _program_files(folder: Traversable) -> list[Traversable]:
    found: list[Traversable] = []
    for child in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if child.is_dir() and child.name != "__pycache__":
            found += _program_files(child)
        elif child.is_file():
            found.append(child)
    return found
