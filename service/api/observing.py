"""The outermost layer: request ids, security headers, the log line, the metrics, and the last
word on an unforeseen error.
"""

import re
import secrets
from functools import lru_cache
from time import perf_counter

from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api import problems
from service.api.heads import header
from service.api.metrics import Metrics, RouteNames
from service.api.security import COMMON_HEADERS, content_policy
from service.logs import FAILURES, answered

REQUEST_ID = "X-Request-Id"
_REQUEST_ID = REQUEST_ID.lower().encode()
_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
_LOGGED_BODY_BYTES = 10_000


class Observing:
    """Sees every request and answer.

    Within it, an error that nobody foresaw becomes a problem detail that tells nothing of the
    inside.
    """

    def __init__(
        self, app: ASGIApp, metrics: Metrics, routes: RouteNames, *, contents: bool
    ) -> None:
        self._app = app
        self._metrics = metrics
        self._routes = routes
        self._contents = contents

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        exchange = _Exchange(scope, receive, send, contents=self._contents)
        self._metrics.in_flight.inc()
        try:
            await self._app(scope, exchange.receive, exchange.send)
        except ClientDisconnect:
            exchange.status = exchange.status or 499
        except Exception:
            FAILURES.exception(
                "a request failed",
                extra={"request_id": exchange.request_id, "route": self._routes.of(scope["path"])},
            )
            if exchange.status:
                raise  # the answer is under way; the server cuts the connection
            await problems.response_of(problems.UNFORESEEN)(scope, receive, exchange.send)
        finally:
            self._metrics.in_flight.dec()
            self._tell(exchange)

    def _tell(self, exchange: "_Exchange") -> None:
        route = self._routes.of(exchange.scope["path"])
        seconds = perf_counter() - exchange.began
        status = exchange.status or 499
        method = exchange.method
        self._metrics.count(method, route, status, seconds)
        facts: dict[str, object] = {
            "request_id": exchange.request_id,
            "method": method,
            "route": route,
            "status": status,
            "milliseconds": round(seconds * 1_000, 3),
            "bytes": exchange.size,
            "client": (exchange.scope.get("client") or ("",))[0],
        }
        if token := exchange.scope["state"].get("token_id"):
            facts["token"] = token
        if self._contents:
            facts |= {
                "path": exchange.scope["path"],
                "query": exchange.scope["query_string"].decode("latin-1"),
            }
            facts["body"] = bytes(exchange.body).decode("utf-8", "replace")
        answered(facts)


class _Exchange:
    """One request and its answer."""

    def __init__(self, scope: Scope, receive: Receive, send: Send, *, contents: bool) -> None:
        given = header(scope, _REQUEST_ID) or ""
        self.request_id = given if _ID.fullmatch(given) else secrets.token_hex(8)
        self.scope = scope
        scope.setdefault("state", {})["request_id"] = self.request_id
        # A method that HTTP does not know is one series, not as many as a client can think of.
        self.method = scope["method"] if scope["method"] in _METHODS else "OTHER"
        self.began = perf_counter()
        self.status = 0
        self.size = 0
        self.body = bytearray()
        self.receive = self._reading if contents else receive
        self._receive, self._send = receive, send

    async def _reading(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request" and len(self.body) < _LOGGED_BODY_BYTES:
            self.body += message.get("body", b"")[: _LOGGED_BODY_BYTES - len(self.body)]
        return message

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.status = message["status"]
            self._head(message)
        elif message["type"] == "http.response.body":
            self.size += len(message.get("body", b""))
        await self._send(message)

    def _head(self, message: Message) -> None:
        raw = [*message.get("headers", ()), *COMMON_HEADERS]
        raw.append((_REQUEST_ID, self.request_id.encode()))
        given = dict(raw)
        if b"content-security-policy" not in given:
            raw.append((b"content-security-policy", _policy(given.get(b"content-type", b""))))
        if b"cache-control" not in given:
            raw.append((b"cache-control", b"no-store"))
        if self.status == 304:  # its type says which policy the 200 had, and no more
            raw = [(name, value) for name, value in raw if name != b"content-type"]
        message["headers"] = raw


@lru_cache(maxsize=100)
def _policy(content_type: bytes) -> bytes:
    return content_policy(content_type.decode("latin-1").partition(";")[0]).encode()


_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
