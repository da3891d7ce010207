"""Limits on what a client may ask: how often, how much at once, how long a body, how long the
work.
"""

import ipaddress
from collections import OrderedDict
from collections.abc import Callable
from functools import lru_cache
from math import ceil
from time import monotonic
from typing import Any

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api import problems
from service.api.bodies import Exchange, Places, too_long
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
        refill_s = ceil(burst / self._per_second)
        self._policy = f'"client";q={burst};w={refill_s}'.encode()
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

    def headers(self, client: str) -> list[tuple[bytes, bytes]]:
        """What the client has left, in the form of the IETF draft on rate limit headers (Polli,
        Martinez, Miller: RateLimit header fields for HTTP, 10th version): the quota and its
        window; requests left and the seconds until the quota is whole again.
        """
        left, _ = self._left[client]
        whole_s = ceil((self._burst - left) / self._per_second)
        state = f'"client";r={int(left)};t={whole_s}'.encode()
        return [(b"ratelimit-policy", self._policy), (b"ratelimit", state)]


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

    def __init__(self, app: ASGIApp, config: Settings, metrics: Metrics, places: Places) -> None:
        self._app = app
        self._config = config
        self._metrics = metrics
        self._places = places
        self._buckets = (
            TokenBuckets(config.rate_per_minute, config.rate_burst)
            if config.rate_per_minute
            else None
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"].startswith(_UNLIMITED):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if self._buckets is not None:
            client = client_of((scope.get("client") or ("",))[0])
            wait = self._buckets.wait_s(client)
            send = _with_headers(send, self._buckets.headers(client))
            if wait:
                self._metrics.refused.labels("rate").inc()
                refusal = problems.response_of(problems.TOO_MANY, {"Retry-After": str(ceil(wait))})
                await refusal(scope, receive, send)
                return
        loading = scope["path"].startswith(LOADS)
        limit = self._config.max_load_bytes if loading else self._config.max_body_bytes
        announced = headers.get("content-length", "")
        if announced.isascii() and announced.isdigit() and int(announced) > limit:
            self._metrics.refused.labels("body").inc()
            refusal = problems.response_of(problems.problem_of(too_long(limit)))
            await refusal(scope, receive, send)
            return
        work = set_deadline(0 if loading else self._config.max_query_seconds)
        exchange = Exchange(self._places, self._config, work, loading=loading)
        with_body = announced not in ("", "0") or "transfer-encoding" in headers
        if not exchange.enter(with_body=with_body):
            self._metrics.refused.labels("busy").inc()
            await problems.response_of(problems.BUSY, {"Retry-After": "1"})(scope, receive, send)
            return
        try:
            await self._app(scope, exchange.receiving(receive), exchange.sending(send))
        finally:
            exchange.leave()


def _with_headers(send: Send, headers: list[tuple[bytes, bytes]]) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", ()), *headers]}
        await send(message)

    return with_headers


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


def check_findings(
    labels: int, places: int, acts: int, config: Settings, pointer: str = ""
) -> None:
    """Refuse a request for more findings than the limit: labels by places by acts.

    Raises:
        TooLarge: over the limit.
    """
    findings = labels * places * acts
    if findings > config.max_findings:
        raise TooLarge(
            f"The request is for {findings:,} findings ({labels:,} labels by {places} places by "
            f"{acts} acts), which",
            config.max_findings,
            pointer=pointer,
        )


def check_plantings(plantings: int, config: Settings) -> None:
    """Refuse a community with more plantings than the limit.

    Raises:
        TooLarge: over the limit.
    """
    if plantings > config.max_plantings:
        raise TooLarge(
            f"The community has {plantings:,} plantings, which",
            config.max_plantings,
            pointer="/features",
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
