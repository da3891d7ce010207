"""Counts and durations for Prometheus. Route templates label them, never paths or queries, so that
there are few series and no contents.

With several workers each writes to files in ``PROMETHEUS_MULTIPROC_DIR``, and any of them answers
for all.
"""

import os
import re
from collections.abc import Iterable
from functools import lru_cache

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

    def __init__(self, templates: Iterable[str]) -> None:
        exact = {each for each in templates if "{" not in each}
        patterns = [
            (re.compile(re.sub(r"\\{.*?\\}", ".+", re.escape(each))), each)
            for each in templates
            if "{" in each
        ]
        # The longest template is the most particular one.
        patterns.sort(key=lambda pattern: -len(pattern[1]))

        @lru_cache(maxsize=2_000)
        def named(path: str) -> str:
            if path in exact:
                return path
            return next(
                (template for pattern, template in patterns if pattern.fullmatch(path)), "other"
            )

        self.of = named
