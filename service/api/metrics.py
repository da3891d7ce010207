"""Counts and durations for Prometheus. Route templates label them, never paths or queries, so that
there are few series and no contents.

With several workers each writes to files in ``PROMETHEUS_MULTIPROC_DIR``, and any of them answers
for all.
"""

import os
import platform
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib.metadata import version

from fastapi import APIRouter
from fastapi.routing import APIRoute
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    Metric,
    ProcessCollector,
    disable_created_metrics,
    generate_latest,
    multiprocess,
)
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily
from prometheus_client.registry import Collector

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

        self._by_answer: dict[tuple[str, str, int], tuple[Counter, Histogram]] = {}

    def count(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count an answer."""
        series = self._by_answer.get((method, route, status))
        if series is None:
            series = self.requests.labels(method, route, status), self.seconds.labels(route)
            self._by_answer[method, route, status] = series
        series[0].inc()
        series[1].observe(seconds)

    def text(
        self, store: StoreHandle, lists_due: int | None, jobs: Mapping[str, int] | None = None
    ) -> bytes:
        """All of it in the text format, with the state of this worker's store and jobs."""
        registry = self._registry
        if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
            registry = CollectorRegistry()
            multiprocess.MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        present = CollectorRegistry()
        present.register(_Present(store, lists_due, jobs or {}))
        ProcessCollector(registry=present)
        return generate_latest(registry) + generate_latest(present)


class _Present(Collector):
    """What is looked at when it is asked for, not counted: the state of this worker."""

    def __init__(self, store: StoreHandle, lists_due: int | None, jobs: Mapping[str, int]) -> None:
        self._store = store
        self._lists_due = lists_due
        self._jobs = jobs

    def collect(self) -> Iterator[Metric]:
        info = GaugeMetricFamily(
            "reedgate_build_info",
            "1, with the version of the program and of Python",
            labels=["version", "python"],
        )
        info.add_metric([version("reedgate"), platform.python_version()], 1)
        yield info
        opened = GaugeMetricFamily(
            "reedgate_store_open", "1 where a store is open, by build", labels=["build"]
        )
        library = self._store.cached()
        if library is not None:
            opened.add_metric([library.build_id], 1)
        yield opened
        yield CounterMetricFamily(
            "reedgate_store_swaps",
            "Builds taken up by this worker after its first",
            value=self._store.swaps,
        )
        yield GaugeMetricFamily(
            "reedgate_store_refused",
            "1 where the file in place cannot be opened and an older build answers",
            value=self._store.refusal is not None,
        )
        if self._lists_due is not None:
            yield GaugeMetricFamily(
                "reedgate_lists_due", "Lists due for review", value=self._lists_due
            )
        jobs = GaugeMetricFamily(
            "reedgate_jobs", "Jobs of all servers that share them, by state", labels=["state"]
        )
        for state, count in self._jobs.items():
            jobs.add_metric([state], count)
        yield jobs


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
