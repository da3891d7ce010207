"""Limits on what a client may ask: how often, how much at once, how long a body, how long the
work.
"""

import ipaddress
from asyncio import timeout
from collections import OrderedDict
from collections.abc import Callable
from functools import lru_cache
from math import ceil
from time import monotonic
from typing import Any

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api import problems
from service.api.metrics import Metrics
from service.errors import BadRequest, TooLarge
from service.settings import Settings
from service.store.deadline import set_deadline

LOADS = "/v1/loads"
_UNLIMITED = ("/health/", "/metrics")
_CLIENTS_KEPT = 10_000


class TokenBuckets:
    """A bucket of tokens for each client: a request takes one, and they come back at an even rate.

    The clock never runs backwards (``time.monotonic``), so setting the machine's clock changes
    nothing here.
    """

    def __init__(self, per_minute: int, burst: int, clock: Callable[[], float] = monotonic) -> None:
        self._per_second = per_minute / 60
        self._burst = float(burst)
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait_s(self, client: str) -> float:
        """Take a token. 0, or the seconds until there is one again."""
        now = self._clock()
        left, seen = self._left.pop(client, (self._burst, now))
        left = min(self._burst, left + (now - seen) * self._per_second)
        wait = 0.0 if left >= 1 else (1 - left) / self._per_second
        self._left[client] = (left - 1 if not wait else left, now)
        if len(self._left) > _CLIENTS_KEPT:
            self._left.popitem(last=False)
        return wait


@lru_cache(maxsize=_CLIENTS_KEPT)
def client_of(address: str) -> str:
    """Who an address stands for: itself, or the /64 network of an IPv6 address, all of which one
    client may hold.
    """
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return address
    return str(ipaddress.ip_network(f"{known}/64", strict=False)) if known.version == 6 else address


class Limits:
    """Refuses what is over a limit, with ``Retry-After`` where waiting helps."""

    def __init__(self, app: ASGIApp, config: Settings, metrics: Metrics) -> None:
        self._app = app
        self._config = config
        self._metrics = metrics
        self._buckets = (
            TokenBuckets(config.rate_per_minute, config.rate_burst)
            if config.rate_per_minute
            else None
        )
        self._in_flight = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"].startswith(_UNLIMITED):
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await problems.response_of(*refusal)(scope, receive, send)
            return
        loading = scope["path"].startswith(LOADS)
        set_deadline(0 if loading else self._config.max_query_seconds)
        limit = self._config.max_load_bytes if loading else self._config.max_body_bytes
        self._in_flight += 1
        try:
            await self._app(
                scope,
                _bounded(receive, limit, self._config.max_pause_seconds),
                _patient(send, self._config.max_pause_seconds),
            )
        finally:
            self._in_flight -= 1

    def _refusal(self, scope: Scope) -> tuple[problems.Problem, dict[str, str]] | None:
        if self._buckets is not None:
            wait = self._buckets.wait_s(client_of((scope.get("client") or ("",))[0]))
            if wait:
                self._metrics.refused.labels("rate").inc()
                return problems.TOO_MANY, {"Retry-After": str(ceil(wait))}
        if self._in_flight >= self._config.max_in_flight:
            self._metrics.refused.labels("busy").inc()
            return problems.BUSY, {"Retry-After": "1"}
        limit = (
            self._config.max_load_bytes
            if scope["path"].startswith(LOADS)
            else self._config.max_body_bytes
        )
        announced = Headers(scope=scope).get("content-length", "")
        if announced.isascii() and announced.isdigit() and int(announced) > limit:
            self._metrics.refused.labels("body").inc()
            return problems.problem_of(too_long(limit)), {}
        return None


def too_long(limit: int) -> TooLarge:
    """The error for a body over the limit."""
    return TooLarge("The body in bytes", limit)


def _bounded(receive: Receive, limit: int, pause_s: float) -> Receive:
    """The body as it comes, but no longer than the limit, and no slower than one piece within
    the pause.
    """
    size = 0
    whole = False

    async def bounded() -> Message:
        nonlocal size, whole
        if whole:
            return await receive()
        try:
            async with timeout(pause_s):
                message = await receive()
        except TimeoutError as error:
            raise HTTPException(
                408, "The body came too slowly.", {"Connection": "close"}
            ) from error
        if message["type"] == "http.request":
            whole = not message.get("more_body", False)
            size += len(message.get("body", b""))
            if size > limit:
                # FastAPI lets this class alone through while it reads a body.
                raise HTTPException(413, too_long(limit).detail, {"Connection": "close"})
        return message

    return bounded


_FITS_THE_BUFFER = 32_768
"""Bytes that the server takes at once without waiting for the client (asyncio's buffer holds 64
KiB).
"""


def _patient(send: Send, pause_s: float) -> Send:
    """Sends on; a client that does not take its answer is given up on, so that it does not hold
    a place for good.
    """

    async def patient(message: Message) -> None:
        if len(message.get("body", b"")) < _FITS_THE_BUFFER and not message.get("more_body", False):
            await send(message)
            return
        try:
            async with timeout(pause_s):
                await send(message)
        except TimeoutError as error:
            raise ClientDisconnect from error

    return patient


def check_labels(labels: list[str], config: Settings, pointer: str = "/labels") -> None:
    """Refuse labels that are too many or too long.

    Raises:
        TooLarge: too many.
        BadRequest: one is too long.
    """
    if len(labels) > config.max_labels:
        raise TooLarge("The number of labels", config.max_labels, pointer=pointer)
    longest = config.max_label_characters
    for number, label in enumerate(labels):
        if len(label) > longest:
            raise BadRequest(
                f"The label has {len(label):,} characters, where {longest:,} are the limit.",
                pointer=f"{pointer}/{number}",
                next_step="Send the name alone, without notes.",
            )


def check_geojson(document: Any, config: Settings) -> None:
    """Refuse a GeoJSON document with more features or coordinate pairs than the limits allow.

    Args:
        document: parsed JSON, of any shape: what is no GeoJSON is for its reader to refuse.

    Raises:
        TooLarge: over a limit.
    """
    features = document.get("features") if isinstance(document, dict) else None
    if isinstance(features, list) and len(features) > config.max_features:
        raise TooLarge("The number of features", config.max_features, pointer="/features")
    pairs = 0
    waiting = [document]
    while waiting:
        each = waiting.pop()
        if isinstance(each, dict):
            waiting.extend(value for value in each.values() if isinstance(value, dict | list))
        elif isinstance(each, list):
            if (
                len(each) >= 2
                and isinstance(each[0], int | float)
                and isinstance(each[1], int | float)
            ):
                pairs += 1
                if pairs > config.max_coordinates:
                    raise TooLarge("The number of coordinate pairs", config.max_coordinates)
            else:
                waiting.extend(value for value in each if isinstance(value, dict | list))
