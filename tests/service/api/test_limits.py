"""Limits: how often, how much at once, how long a body, how many labels, how long the work."""

import asyncio
import json
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from service.api.app import create_app
from service.api.bodies import Places
from service.api.limits import TokenBuckets, check_geojson, check_labels, client_of
from service.errors import BadRequest, TooLarge
from service.settings import Settings
from service.store.database import Build
from service.store.deadline import set_deadline
from service.values.vocabulary import ACTS


def fresh(store: Path, **config: object) -> TestClient:
    return TestClient(
        create_app(store, Settings.model_validate(config)), raise_server_exceptions=False
    )


def test_a_client_over_its_rate_is_told_when_to_come_back(reference_path: Path) -> None:
    client = fresh(reference_path, rate_per_minute=6, rate_burst=3)
    answers = [client.get("/v1/names?label=cattail") for _ in range(4)]
    assert [answer.status_code for answer in answers] == [200, 200, 200, 429]
    assert answers[3].headers["content-type"] == "application/problem+json"
    assert 1 <= int(answers[3].headers["retry-after"]) <= 10
    assert client.get("/health/live").status_code == 200
    assert 'reedgate_refused_total{why="rate"} 1.0' in client.get("/metrics").text


def test_without_a_rate_nobody_is_refused(client: TestClient) -> None:
    assert {client.get("/v1/names?label=cattail").status_code for _ in range(200)} == {200}


@given(st.lists(st.floats(0, 30), min_size=1, max_size=60), st.integers(1, 600), st.integers(1, 20))
def test_a_bucket_gives_no_more_than_its_burst_and_its_rate(
    pauses: list[float], per_minute: int, burst: int
) -> None:
    now = 0.0
    buckets = TokenBuckets(per_minute, burst, clock=lambda: now)
    given_out = 0
    for pause in pauses:
        now += pause
        wait = buckets.take("a").wait_s
        given_out += not wait
        assert wait <= 60 / per_minute + 1e-6
    assert given_out <= burst + now * per_minute / 60 + 1e-6


def test_after_the_wait_named_there_is_a_token() -> None:
    now = 0.0
    buckets = TokenBuckets(7, 1, clock=lambda: now)
    assert buckets.take("a").wait_s == 0
    now += buckets.take("a").wait_s + 1e-9
    assert buckets.take("a").wait_s == 0


def test_clients_do_not_share_a_bucket_but_one_ipv6_network_does() -> None:
    buckets = TokenBuckets(1, 1, clock=lambda: 0.0)
    assert buckets.take(client_of("192.0.2.1")).wait_s == 0
    assert buckets.take(client_of("192.0.2.2")).wait_s == 0
    assert (
        client_of("2001:db8:1:2::1")
        == client_of("2001:db8:1:2:ffff::9")
        != client_of("2001:db8:1:3::1")
    )


def test_the_books_on_clients_do_not_grow_without_end() -> None:
    buckets = TokenBuckets(1, 1)
    for number in range(12_000):
        buckets.take(str(number))
    assert len(buckets._left) == 10_000


@pytest.mark.parametrize("announced", [True, False])
def test_a_body_over_the_limit_is_413_whether_its_length_is_announced_or_not(
    reference_path: Path, announced: bool
) -> None:
    client = fresh(reference_path, max_body_bytes=5_000)
    body = json.dumps({"labels": ["cattail"] * 1_000}).encode()

    def pieces() -> Iterator[bytes]:
        yield from (body[start : start + 1_000] for start in range(0, len(body), 1_000))

    response = client.post(
        "/v1/names",
        content=body if announced else pieces(),
        headers={"Content-Type": "application/json"},
    )
    assert response.status_code == 413
    assert response.json()["type"] == "/problems/too-large"


def test_a_stock_list_over_the_body_limit_is_413(reference_path: Path) -> None:
    client = fresh(reference_path, max_body_bytes=100)
    response = client.post(
        "/v1/stock-checks?to=US-OH",
        content="label\n" + "cattail\n" * 100,
        headers={"Content-Type": "text/csv"},
    )
    assert response.status_code == 413


def test_labels_too_many_or_too_long_are_refused_with_their_place() -> None:
    config = Settings(max_labels=3, max_label_characters=10)
    check_labels(["a", "b", "c"], config)
    with pytest.raises(TooLarge):
        check_labels(["a"] * 4, config)
    with pytest.raises(BadRequest) as caught:
        check_labels(["a", "b" * 11], config)
    assert caught.value.pointer == "/labels/1"


def test_a_label_over_its_length_is_422(client: TestClient) -> None:
    assert client.get("/v1/names", params={"label": "x" * 2_001}).status_code == 422
    response = client.post("/v1/names", json={"labels": ["x" * 2_001]})
    assert (response.status_code, response.json()["pointer"]) == (422, "/labels/0")


def test_features_and_coordinates_are_counted() -> None:
    point = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [1.0, 2.0]},
        "properties": {},
    }
    line = {"type": "LineString", "coordinates": [[0.0, float(step)] for step in range(50)]}
    check_geojson(
        {"type": "FeatureCollection", "features": [point] * 3},
        Settings(max_features=3, max_coordinates=3),
    )
    check_geojson(line, Settings(max_coordinates=50))
    with pytest.raises(TooLarge):
        check_geojson(
            {"type": "FeatureCollection", "features": [point] * 4}, Settings(max_features=3)
        )
    with pytest.raises(TooLarge):
        check_geojson(line, Settings(max_coordinates=49))


@pytest.mark.parametrize(
    "document", [None, 3, "text", [], {}, {"features": 7}, {"features": [[[[]]]]}, [[["a"]]]]
)
def test_what_is_no_geojson_is_left_to_its_reader(document: object) -> None:
    check_geojson(document, Settings(max_coordinates=1))


def test_geojson_nested_deep_needs_no_deep_stack() -> None:
    nested: list[object] = []
    for _ in range(100_000):
        nested = [nested]
    check_geojson(nested, Settings())


def test_work_over_the_time_limit_is_503_with_retry_after(reference_path: Path) -> None:
    client = fresh(reference_path, max_query_seconds=0.000001)
    response = client.post(
        "/v1/stock-checks", json={"labels": ["Typha", "Nymphaea"], "to": ["US-OH"]}
    )
    assert response.status_code == 503
    assert response.json()["type"] == "/problems/took-too-long"
    assert "retry-after" in response.headers


def test_a_query_of_the_store_is_stopped_at_the_time_limit(reference_path: Path) -> None:
    import sqlite3

    build = Build(reference_path)
    connection = build.connection
    endless = (
        "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT count(*) FROM n"
    )
    began = time.monotonic()
    set_deadline(0.2)
    try:
        with pytest.raises(sqlite3.OperationalError, match="interrupted"):
            connection.execute(endless).fetchone()
    finally:
        set_deadline(0)
    assert time.monotonic() - began < 5
    build.close()


def test_more_at_once_than_the_service_takes_is_503(reference_path: Path) -> None:
    import anyio
    import httpx

    app = create_app(reference_path, Settings(max_in_flight=1))
    statuses: list[int] = []

    async def ask(client: httpx.AsyncClient) -> None:
        response = await client.post(
            "/v1/stock-checks", json={"labels": ["Typha"] * 500, "to": ["US-OH"]}
        )
        statuses.append(response.status_code)
        if response.status_code == 503:
            assert response.headers["retry-after"] == "1"

    async def ask_at_once() -> None:
        async with (
            httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://test") as client,
            anyio.create_task_group() as group,
        ):
            for _ in range(5):
                group.start_soon(ask, client)

    anyio.run(ask_at_once)
    assert statuses.count(503) >= 1
    assert statuses.count(200) >= 1
    assert set(statuses) == {200, 503}


def test_json_nested_too_deep_is_422_and_not_a_failure(client: TestClient) -> None:
    body = '{"labels":' + "[" * 200_000 + "]" * 200_000 + "}"
    for path in ("/v1/names", "/v1/stock-checks"):
        response = client.post(path, content=body, headers={"Content-Type": "application/json"})
        assert response.status_code == 422, path


def test_large_answers_take_turns(reference_path: Path) -> None:
    client = fresh(reference_path, max_large_at_once=1, max_pause_seconds=0.1)
    places = client.app.state.places  # type: ignore[attr-defined]
    body = "label\r\n" + "Typha latifolia\r\n" * 2_000

    def asked() -> int:
        headers = {"Content-Type": "text/csv", "Accept": "text/csv"}
        answer = client.post("/v1/stock-checks?to=all", content=body, headers=headers)
        return int(answer.status_code)

    assert asyncio.run(places.take_turn(0))
    refused = client.post("/list/file", data={"plants": body, "to": "all"})
    assert (asked(), refused.status_code, refused.headers["retry-after"]) == (503, 503, "5")
    small = client.post("/v1/stock-checks", json={"labels": ["Typha"], "to": ["US-OH"]})
    assert small.status_code == 200
    plan = {"site": {"state": "US-OH"}, "plantings": ["Typha"] * 100}
    assert client.post("/v1/plan-checks", json=plan).status_code == 503
    places.end_turn()
    assert asked() == 200
    assert asyncio.run(places.take_turn(0)), "the turn ends with the request"


def test_a_turn_is_waited_for_by_a_few() -> None:
    async def asked() -> list[bool]:
        places = Places(most=1)
        assert await places.take_turn(0)
        waiting = [asyncio.create_task(places.take_turn(5)) for _ in range(5)]
        await asyncio.sleep(0)
        refused = await waiting[4]
        places.end_turn()
        took = await asyncio.wait(waiting[:4], return_when=asyncio.FIRST_COMPLETED)
        for late in took[1]:
            late.cancel()
        return [refused, *(one.result() for one in took[0])]

    assert asyncio.run(asked()) == [False, True]


@pytest.mark.parametrize("path", ["/list", "/list/rows", "/list/file"])
def test_the_page_asks_for_no_more_findings_than_a_program_may(
    client: TestClient, path: str
) -> None:
    form = {"plants": "label\n" + "Typha\n" * 2_000, "to": "all", "act": list(ACTS)}
    answer = client.post(path, data=form)
    assert answer.status_code == 413
    assert "1,020,000 findings" in answer.text
