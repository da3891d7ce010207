"""Metrics, readiness and logs: what the operator sees, and what is kept from it."""

import json
import logging
from datetime import date
from pathlib import Path

import pytest
from fastapi import APIRouter
from fastapi.testclient import TestClient
from prometheus_client.parser import text_string_to_metric_families

from service.api.app import create_app
from service.api.metrics import RouteNames
from service.api.routes.health import due_for_review
from service.logs import JsonLines
from service.settings import Settings
from service.store.library import Library


def fresh(store: Path, **config: object) -> TestClient:
    return TestClient(
        create_app(store, Settings.model_validate(config)), raise_server_exceptions=False
    )


def samples(client: TestClient) -> dict[tuple[str, frozenset[tuple[str, str]]], float]:
    families = text_string_to_metric_families(client.get("/metrics").text)
    return {
        (sample.name, frozenset(sample.labels.items())): sample.value
        for family in families
        for sample in family.samples
    }


def test_requests_are_counted_by_route_and_never_by_content(reference_path: Path) -> None:
    client = fresh(reference_path)
    for label in ("cattail", "secret pond plan"):
        client.get("/v1/names", params={"label": label})
    client.get("/v1/plants/typha-latifolia")
    client.get("/v1/plants/another")
    client.get("/somewhere/else")
    counted = samples(client)
    assert (
        counted[
            "reedgate_requests_total",
            frozenset({("method", "GET"), ("route", "/v1/names"), ("status", "200")}),
        ]
        == 2
    )
    assert (
        counted[
            "reedgate_requests_total",
            frozenset({("method", "GET"), ("route", "other"), ("status", "404")}),
        ]
        == 1
    )
    assert (
        counted["reedgate_request_seconds_count", frozenset({("route", "/v1/plants/{plant_id}")})]
        == 2
    )
    assert "secret" not in client.get("/metrics").text


def test_the_store_shows_in_the_metrics(reference_path: Path, library: Library) -> None:
    client = fresh(reference_path)
    client.get("/v1/names?label=cattail")
    counted = samples(client)
    assert counted["reedgate_store_open", frozenset({("build", library.build_id)})] == 1
    assert counted["reedgate_store_refused", frozenset()] == 0
    assert counted["reedgate_lists_due", frozenset()] > 0


def test_metrics_come_without_a_store(tmp_path: Path) -> None:
    counted = samples(fresh(tmp_path / "none.db"))
    assert ("reedgate_lists_due", frozenset()) not in counted


def test_a_made_up_method_makes_no_series_of_its_own(reference_path: Path) -> None:
    client = fresh(reference_path)
    for number in range(5):
        assert client.request(f"BREW{number}", "/v1/names").status_code == 405
    assert sum("OTHER" in str(labels) for _, labels in samples(client)) == 1


def test_route_names_take_the_most_particular_template() -> None:
    router, names = APIRouter(), RouteNames()
    for path in ("/v1/lists", "/v1/lists/{list_id}", "/v1/lists/{list_id}/entries"):
        router.add_api_route(path, lambda: None)
    router.add_api_route("/v1/waters/{water_id:path}", lambda: None)
    names.add(router)
    assert names.of("/v1/lists/us-wi/entries") == "/v1/lists/{list_id}/entries"
    assert names.of("/v1/lists/us-wi") == "/v1/lists/{list_id}"
    assert names.of("/v1/waters/gnis:1/2") == "/v1/waters/{water_id}"
    assert names.of("/v2") == "other"


def test_readiness_names_lists_due_for_review(reference_path: Path) -> None:
    ready = fresh(reference_path, review_months=12).get("/health/ready").json()
    assert ready["status"] == "ready"
    assert "us-ca-noxious-weeds" in ready["due_for_review"]
    assert ready["undated_copies"] > 0
    none = fresh(reference_path, review_months=0).get("/health/ready").json()
    assert none["due_for_review"] == []


def test_where_the_operator_is_strict_a_list_due_makes_the_service_not_ready(
    reference_path: Path,
) -> None:
    response = fresh(reference_path, review_months=12, review_strict=True).get("/health/ready")
    assert response.status_code == 503
    assert "us-ca-noxious-weeds" in response.json()["detail"]
    assert "retry-after" in response.headers


@pytest.mark.parametrize(
    ("on", "months", "due"),
    [(date(2026, 1, 2), 12, False), (date(2026, 2, 2), 12, True), (date(2025, 6, 1), 12, False)],
)
def test_a_copy_known_to_the_year_counts_from_its_first_day(
    library: Library, on: date, months: int, due: bool
) -> None:
    from dataclasses import replace

    version = replace(
        library.law.versions[0], read_copy_date="2025", effective_from=None, superseded_on=None
    )
    assert bool(due_for_review([version], on, months)) is due


def test_a_log_line_is_one_json_object_without_contents(
    reference_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level("INFO", logger="reedgate.access"):
        fresh(reference_path).get(
            "/v1/names?label=secret%20pond", headers={"X-Request-Id": "order-7"}
        )
    text = JsonLines().format(caplog.records[-1])
    line = json.loads(text)
    assert (line["request_id"], line["route"], line["status"]) == ("order-7", "/v1/names", 200)
    assert "secret" not in text
    assert "\n" not in text


def test_contents_are_logged_where_the_operator_asks(
    reference_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    client = fresh(reference_path, log_contents=True)
    with caplog.at_level("INFO", logger="reedgate.access"):
        client.post(
            "/v1/stock-checks?to=US-OH",
            content=b"label\nsecret pond\n",
            headers={"Content-Type": "text/csv"},
        )
    line = json.loads(JsonLines(contents=True).format(caplog.records[-1]))
    assert line["query"] == "to=US-OH"
    assert "secret pond" in line["body"]


@pytest.mark.parametrize("contents", [False, True])
def test_the_text_of_an_error_is_contents(contents: bool) -> None:
    try:
        raise ValueError("no plant called secret pond")
    except ValueError as error:
        record = logging.LogRecord(
            "reedgate.failures",
            logging.ERROR,
            "",
            0,
            "a request failed",
            None,
            (type(error), error, error.__traceback__),
        )
    line = json.loads(JsonLines(contents=contents).format(record))
    assert line["error"] == "ValueError"
    assert line["at"]
    assert ("secret" in json.dumps(line)) is contents
