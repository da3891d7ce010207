"""Limits on what a client may ask: how often, how much at once, how long a body, how long the
work.
"""

import ipaddress
import logging
from asyncio import to_thread
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import ceil
from time import monotonic
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api import problems
from service.api.bodies import Exchange, Places, too_long
from service.api.heads import header
from service.api.metrics import Metrics
from service.errors import BadRequest, SharedAway, TooLarge
from service.settings import Settings
from service.shared.homes import bucket_home
from service.store.deadline import set_deadline

if TYPE_CHECKING:
    from service.shared.tables_postgres import BucketTable

LOADS = "/v1/loads"
_UNLIMITED = ("/health/", "/metrics")
_CLIENTS_KEPT = 10_000
LARGE = 100_000
"""Findings from which an answer takes its turn among the large ones: from here on a worker holds
some hundred megabytes for it (measured).
"""
LARGE_PLAN = 100
"""Plantings from which a plan or a screening takes a turn."""
LARGE_WORKBOOK = 100_000
"""Bytes of a workbook from which reading it takes a turn; packed, they are a hundred times as much.
"""
_AWAY_S = 5.0
"""How long the database is left alone after it did not answer (common practice, no source)."""
_FORGET_EVERY_S = 60.0
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Taken:
    """What a client has left after a request, and how long to wait where it got no token."""

    left: float
    wait_s: float


class TokenBuckets:
    """A bucket of tokens for each client: a request takes one, and they come back at an even rate.

    The clock never runs backwards (``time.monotonic``), so setting the machine's clock changes
    nothing here.
    """

    def __init__(self, per_minute: int, burst: int, clock: Callable[[], float] = monotonic) -> None:
        self.per_second = per_minute / 60
        self._burst = float(burst)
        self._policy = f'"client";q={burst};w={ceil(burst / self.per_second)}'.encode()
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, client: str) -> Taken:
        """Take a token, where there is one."""
        now = self._clock()
        left, seen = self._left.pop(client, (self._burst, now))
        left = min(self._burst, left + (now - seen) * self.per_second)
        wait = 0.0 if left >= 1 else (1 - left) / self.per_second
        left = left if wait else left - 1
        self._left[client] = (left, now)
        if len(self._left) > _CLIENTS_KEPT:
            self._left.popitem(last=False)
        return Taken(left, wait)

    def headers(self, taken: Taken) -> list[tuple[bytes, bytes]]:
        """What the client has left, in the form of the IETF draft on rate limit headers (Polli,
        Martinez, Miller: RateLimit header fields for HTTP, 10th version): the quota and its
        window; requests left and the seconds until the quota is whole again.
        """
        whole_s = ceil((self._burst - taken.left) / self.per_second)
        state = f'"client";r={int(taken.left)};t={whole_s}'.encode()
        return [(b"ratelimit-policy", self._policy), (b"ratelimit", state)]


class SharedBuckets:
    """Buckets that several servers share: one statement of the database a request.

    A client that is refused is refused from memory until its next token is due. While the database
    is away every worker counts by itself, so that nobody is shut out and no client is without a
    limit; the log says so, and it is tried again every few seconds.
    """

    def __init__(self, table: "BucketTable", alone: TokenBuckets) -> None:
        self._table = table
        self._alone = alone
        self._refused: OrderedDict[str, float] = OrderedDict()
        self._away_until = 0.0
        self._forget_at = monotonic() + _FORGET_EVERY_S

    async def take(self, client: str) -> Taken:
        """Take a token, where there is one."""
        now = monotonic()
        due = self._refused.get(client, 0.0)
        if due > now:
            return Taken(0.0, due - now)
        if now < self._away_until:
            return self._alone.take(client)
        try:
            left, taken = await to_thread(self._table.take, client)
            if now > self._forget_at:
                self._forget_at = now + _FORGET_EVERY_S
                await to_thread(self._table.forget_whole)
        except SharedAway as error:
            self._away_until = monotonic() + _AWAY_S
            _log.warning("each worker counts requests by itself: %s", error)
            return self._alone.take(client)
        self._refused.pop(client, None)
        if taken:
            return Taken(left, 0.0)
        wait = (1 - left) / self._alone.per_second
        self._refused[client] = now + wait
        if len(self._refused) > _CLIENTS_KEPT:
            self._refused.popitem(last=False)
        return Taken(left, wait)


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
        table = bucket_home(config)
        self._shared = SharedBuckets(table, self._buckets) if table and self._buckets else None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"].startswith(_UNLIMITED):
            await self._app(scope, receive, send)
            return
        if self._buckets is not None:
            client = client_of((scope.get("client") or ("",))[0])
            taken = await self._shared.take(client) if self._shared else self._buckets.take(client)
            send = _with_headers(send, self._buckets.headers(taken))
            if taken.wait_s:
                self._metrics.refused.labels("rate").inc()
                after = {"Retry-After": str(ceil(taken.wait_s))}
                refusal = problems.response_of(problems.TOO_MANY, after)
                await refusal(scope, receive, send)
                return
        loading = scope["path"].startswith(LOADS)
        limit = self._config.max_load_bytes if loading else self._config.max_body_bytes
        announced = header(scope, b"content-length") or ""
        if announced.isascii() and announced.isdigit() and int(announced) > limit:
            self._metrics.refused.labels("body").inc()
            refusal = problems.response_of(problems.problem_of(too_long(limit)))
            await refusal(scope, receive, send)
            return
        work = set_deadline(0 if loading else self._config.max_query_seconds)
        exchange = Exchange(self._places, self._config, work, loading=loading)
        scope.setdefault("state", {})["exchange"] = exchange
        with_body = announced not in ("", "0") or header(scope, b"transfer-encoding") is not None
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


async def take_turn(request: Request) -> None:
    """Take a turn for an answer that holds much memory; it ends with the request.

    Raises:
        Refused: as many as there is memory for are at work, and none ended in time.
    """
    exchange: Exchange = request.scope["state"]["exchange"]
    await exchange.take_turn()


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
        part = waiting.pop()
        if isinstance(part, dict):
            waiting.extend(value for value in part.values() if isinstance(value, dict | list))
        elif isinstance(part, list):
            if (
                len(part) >= 2
                and isinstance(part[0], int | float)
                and isinstance(part[1], int | float)
            ):
                pairs += 1
                if pairs > config.max_coordinates:
                    raise TooLarge("The number of coordinate pairs", config.max_coordinates)
            else:
                waiting.extend(value for value in part if isinstance(value, dict | list))
