"""Counts and durations for Prometheus. Route templates label them, never paths or queries, so that
there are few series and no contents.

With several workers each writes to files in ``PROMETHEUS_MULTIPROC_DIR``, and any of them answers
for all.
"""

import os
import re
from functools import lru_cache

from fastapi import APIRouter
from fastapi.routing import APIRoute
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    disable_created_metrics,
    generate_latest,
    multiprocess,
)

from service.store.library import StoreHandle

MEDIA_TYPE = CONTENT_TYPE_LATEST
_BOUNDS_S = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0)


disable_created_metrics()  # type: ignore[no-untyped-call]


class Metrics:
    """The metrics of one app."""

    def __init__(self) -> None:
        self._registry = CollectorRegistry()
        self.requests = Counter(
            "reedgate_requests",
            "Requests answered",
            ["method", "route", "status"],
            registry=self._registry,
        )
        self.seconds = Histogram(
            "reedgate_request_seconds",
            "Time from request to the end of its answer",
            ["route"],
            registry=self._registry,
            buckets=_BOUNDS_S,
        )
        self.in_flight = Gauge(
            "reedgate_requests_in_flight",
            "Requests under way",
            registry=self._registry,
            multiprocess_mode="livesum",
        )
        self.reused = Counter(
            "reedgate_answers_reused",
            "Answers given again: kept, or still fresh at the client",
            ["how"],
            registry=self._registry,
        )
        self.refused = Counter(
            "reedgate_refused",
            "Requests refused by a limit or for want of a token",
            ["why"],
            registry=self._registry,
        )

    def text(self, store: StoreHandle, lists_due: int | None) -> bytes:
        """All of it in the text format, with the state of this worker's store."""
        registry = self._registry
        if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
            registry = CollectorRegistry()
            multiprocess.MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        return generate_latest(registry) + generate_latest(_store_metrics(store, lists_due))


def _store_metrics(store: StoreHandle, lists_due: int | None) -> CollectorRegistry:
    # Made anew for each reading: the state of the store is looked at, not counted.
    registry = CollectorRegistry()
    library = store.cached()
    opened = Gauge(
        "reedgate_store_open", "1 where a store is open, by build", ["build"], registry=registry
    )
    if library is not None:
        opened.labels(library.build_id).set(1)
    Gauge(
        "reedgate_store_swaps", "Builds taken up by this worker after its first", registry=registry
    ).set(store.swaps)
    Gauge(
        "reedgate_store_refused",
        "1 where the file in place cannot be opened and an older build answers",
        registry=registry,
    ).set(store.refusal is not None)
    if lists_due is not None:
        Gauge("reedgate_lists_due", "Lists due for review", registry=registry).set(lists_due)
    return registry


class RouteNames:
    """Templates of the routes, so that a path is counted under its route."""

    def __init__(self) -> None:
        self._exact: set[str] = set()
        self._patterns: list[tuple[re.Pattern[str], str]] = []
        self.of = lru_cache(maxsize=2_000)(self._of)

    def add(self, router: APIRouter) -> None:
        """Take up the routes of a router."""
        for route in router.routes:
            if not isinstance(route, APIRoute):
                continue
            if "{" in route.path:
                form = re.sub(r"\\{.*?\\}", ".+", re.escape(route.path))
                self._patterns.append((re.compile(form), route.path.replace(":path}", "}")))
            else:
                self._exact.add(route.path)
        # The longest template is the most particular one.
        self._patterns.sort(key=lambda pattern: -len(pattern[1]))
        self.of.cache_clear()

    def _of(self, path: str) -> str:
        if path in self._exact:
            return path
        return next(
            (template for pattern, template in self._patterns if pattern.fullmatch(path)), "other"
        )
