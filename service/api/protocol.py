"""HTTP as the server reads it: limits on the head of a request, and one Host (RFC 9112)."""

import json
from asyncio import BaseTransport, TimerHandle, Transport
from typing import Any, cast

from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol

from service.api.problem_kinds import KINDS, address_of
from service.settings import settings


class BadHead(Exception):
    """A head that is refused; the name is that of its kind of problem."""


class _OneWrite:
    """A transport that sends the head of an answer with the first piece of its body: two calls of
    the system, two packets and two awakenings of the client would be one of each too many.
    """

    def __init__(self, transport: Transport) -> None:
        self._transport = transport
        self._head = b""

    def __getattr__(self, name: str) -> Any:
        return getattr(self._transport, name)

    def write(self, data: bytes) -> None:
        if data.startswith(_FINAL_STATUS):
            self.flush()
            self._head = data
        else:
            self._transport.write(self._head + data if self._head else data)
            self._head = b""

    def flush(self) -> None:
        """Send a head that no body followed."""
        if self._head:
            self._transport.write(self._head)
            self._head = b""

    def close(self) -> None:
        self.flush()
        self._transport.close()


_FINAL_STATUS = tuple(f"HTTP/1.1 {first}".encode() for first in (2, 3, 4, 5))
"""How the head of an answer begins; 100 is no answer and goes out at once."""


class LimitedProtocol(HttpToolsProtocol):
    """uvicorn's protocol. A head has a time, a size and a number of headers, and one Host."""

    _reading_head = False
    _head_bytes = 0
    _timer: TimerHandle | None = None
    _refused_as = "malformed"

    def connection_made(self, transport: BaseTransport) -> None:
        self._writing = _OneWrite(cast("Transport", transport))
        super().connection_made(cast("Transport", self._writing))
        limits = settings()
        self._most_bytes = limits.max_head_bytes
        self._most_headers = limits.max_headers
        self._head_seconds = limits.max_pause_seconds
        self._start_timer()

    def connection_lost(self, exc: Exception | None) -> None:
        self._stop_timer()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if self.transport.is_closing():
            return
        if self._reading_head:
            # The parser hands a header over when it is whole; until then it grows unseen.
            self._head_bytes += len(data)
            if self._head_bytes > self._most_bytes:
                self._refuse("head-too-large")
            else:
                self._start_timer()
        else:
            self._stop_timer()

    def on_message_begin(self) -> None:
        super().on_message_begin()
        self._reading_head = True
        self._head_bytes = 0
        self._size = 0

    def on_url(self, url: bytes) -> None:
        super().on_url(url)
        self._count(len(url))

    def on_header(self, name: bytes, value: bytes) -> None:
        super().on_header(name, value)
        self._count(len(name) + len(value) + 4)
        if len(self.headers) > self._most_headers:
            self._refused_as = "head-too-large"
            raise BadHead

    def on_headers_complete(self) -> None:
        self._reading_head = False
        hosts = sum(name == b"host" for name, _ in self.headers)
        if hosts > 1 or (hosts == 0 and self.parser.get_http_version() != "1.0"):
            self._refused_as = "one-host"
            raise BadHead
        super().on_headers_complete()

    def on_response_complete(self) -> None:
        self._writing.flush()
        super().on_response_complete()

    def send_400_response(self, msg: str) -> None:
        """Answer what the parser refused, as a problem detail."""
        self._refuse(self._refused_as)

    def _count(self, size: int) -> None:
        self._size += size
        if self._size > self._most_bytes:
            self._refused_as = "head-too-large"
            raise BadHead

    def _refuse(self, name: str) -> None:
        kind = KINDS[name]
        body = json.dumps(
            {
                "type": address_of(name),
                "title": kind.title,
                "status": kind.status,
                "detail": kind.meaning,
                "next_step": kind.next_step,
            }
        ).encode()
        head = (
            f"content-type: application/problem+json\r\ncontent-length: {len(body)}\r\n"
            "connection: close\r\n\r\n"
        )
        self.transport.write(STATUS_LINE[kind.status] + head.encode() + body)
        self.transport.close()

    def _start_timer(self) -> None:
        if self._timer is None:
            self._timer = self.loop.call_later(self._head_seconds, self._too_late)

    def _stop_timer(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _too_late(self) -> None:
        self._timer = None
        if not self.transport.is_closing():
            cast("Any", self.transport).abort()
