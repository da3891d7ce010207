"""Conditional requests, kept answers, compression, pages."""

import gzip
import os
from datetime import UTC, datetime
from pathlib import Path
from unittest.mock import patch

import pytest
from fastapi.testclient import TestClient

from service.api.app import create_app
from service.input import person
from service.settings import Settings
from tests.stores import copied, reference_store

FINDING = "/v1/findings?label=water%20hyacinth&jurisdiction=US-WI"


def fresh(store: Path, **config: object) -> TestClient:
    return TestClient(
        create_app(store, Settings.model_validate(config)), raise_server_exceptions=False
    )


def test_a_client_that_holds_the_answer_is_told_so_without_a_body(client: TestClient) -> None:
    first = client.get(FINDING)
    again = client.get(FINDING, headers={"If-None-Match": first.headers["etag"]})
    assert again.status_code == 304
    assert again.content == b""
    assert again.headers["etag"] == first.headers["etag"]
    assert again.headers["cache-control"] == first.headers["cache-control"]
    assert "Accept-Encoding" in again.headers["vary"]
    assert "content-type" not in again.headers


@pytest.mark.parametrize("known_tags", ['"other", {tag}', "W/{tag}", "*"])
def test_the_tag_is_found_among_others_weak_or_by_a_star(
    client: TestClient, known_tags: str
) -> None:
    tag = client.get(FINDING).headers["etag"]
    assert (
        client.get(FINDING, headers={"If-None-Match": known_tags.replace("{tag}", tag)}).status_code
        == 304
    )


def test_a_star_does_not_hide_a_refusal(client: TestClient) -> None:
    assert client.get("/v1/plants/nobody", headers={"If-None-Match": "*"}).status_code == 404


def test_tags_differ_by_request_coding_build_and_day(
    client: TestClient, reference_path: Path, tmp_path: Path
) -> None:
    plain = {"Accept-Encoding": "identity"}
    tags = [
        client.get(FINDING, headers=plain).headers["etag"],
        client.get(FINDING, headers={"Accept-Encoding": "gzip"}).headers["etag"],
        client.get(f"{FINDING}&act=sell", headers=plain).headers["etag"],
        client.get(FINDING.replace("WI", "OH"), headers=plain).headers["etag"],
    ]
    with patch.object(person, "datetime", wraps=datetime) as clock:
        clock.now.return_value = datetime(2031, 1, 2, 12, tzinfo=UTC)
        tomorrow = client.get(FINDING, headers=plain)
    assert tomorrow.json()["as_of"] == "2031-01-02"
    assert len({*tags, tomorrow.headers["etag"]}) == 5


def test_a_new_build_is_answered_from_at_once_and_the_old_tag_no_longer_holds(
    tmp_path: Path,
) -> None:
    store = tmp_path / "reedgate.db"
    copied(reference_store(), store)
    client = fresh(store)
    first = client.get(FINDING)
    token = client.app.state.tokens.add("t", ("load",))[1]  # type: ignore[attr-defined]
    body = Path("openapi/us-oh-invented.toml").read_bytes()
    loaded = client.post(
        "/v1/loads/regulations?file=a.toml",
        content=body,
        headers={"Authorization": f"Bearer {token}"},
    )
    assert loaded.status_code == 200, loaded.text
    second = client.get(FINDING, headers={"If-None-Match": first.headers["etag"]})
    assert second.status_code == 200
    assert (
        second.json()["store_build"] == loaded.json()["store_build"] != first.json()["store_build"]
    )


def test_the_same_tag_in_another_process(reference_path: Path) -> None:
    tags = {fresh(reference_path).get(FINDING).headers["etag"] for _ in range(2)}
    assert len(tags) == 1


def test_a_kept_answer_is_the_same_bytes(reference_path: Path) -> None:
    keeping, forgetful = fresh(reference_path), fresh(reference_path, response_cache_mb=0)
    first, second = keeping.get(FINDING), keeping.get(FINDING)
    assert first.content == second.content == forgetful.get(FINDING).content
    assert {key: value for key, value in first.headers.items() if key != "x-request-id"} == {
        key: value for key, value in second.headers.items() if key != "x-request-id"
    }
    assert 'reedgate_answers_reused_total{how="kept"} 1.0' in keeping.get("/metrics").text


def test_answers_kept_stay_within_their_memory(reference_path: Path) -> None:
    client = fresh(reference_path, response_cache_mb=1)
    for number in range(600):
        client.get(f"/v1/names?label=Typha%20{number}")
    shelf = _layer(client, "Caching")._shelf  # type: ignore[attr-defined]
    assert 0 < sum(len(kept.body) + 1_000 for kept in shelf._kept.values()) <= 1_000_000


def _layer(client: TestClient, name: str) -> object:
    layer = client.app.middleware_stack  # type: ignore[attr-defined]
    while type(layer).__name__ != name:
        layer = getattr(layer, "_app", None) or layer.app
    return layer


def test_freshness_never_reaches_past_midnight(reference_path: Path) -> None:
    client = fresh(reference_path, cache_seconds=3_600)
    with patch.object(person, "datetime", wraps=datetime) as clock:
        clock.now.return_value = datetime(2026, 6, 1, 23, 59, 30, tzinfo=UTC)
        assert client.get(FINDING).headers["cache-control"] == "public, max-age=30"
        clock.now.return_value = datetime(2026, 6, 1, 12, tzinfo=UTC)
        assert client.get(FINDING).headers["cache-control"] == "public, max-age=3600"


def test_by_default_every_answer_is_asked_for_again_and_refusals_are_not_stored(
    client: TestClient,
) -> None:
    assert client.get(FINDING).headers["cache-control"] == "public, no-cache"
    assert client.get("/v1/plants/nobody").headers["cache-control"] == "no-store"
    stock = client.post("/v1/stock-checks", json={"labels": ["cattail"], "to": ["US-OH"]})
    assert stock.headers["cache-control"] == "no-store"
    assert "etag" not in stock.headers


def test_head_gives_the_headers_of_get(client: TestClient) -> None:
    head, get = client.head(FINDING), client.get(FINDING)
    assert (head.status_code, head.content) == (200, b"")
    assert head.headers["etag"] == get.headers["etag"]
    assert head.headers["content-length"] == get.headers["content-length"]


@pytest.mark.parametrize(
    ("header", "coded"),
    [("gzip", True), ("br, *;q=0.1", True), ("gzip;q=0", False), ("identity", False), ("", False)],
)
def test_compression_follows_accept_encoding(
    reference_path: Path, header: str, coded: bool
) -> None:
    with (
        fresh(reference_path) as client,
        client.stream("GET", "/v1/lists", headers={"Accept-Encoding": header}) as response,
    ):
        raw = b"".join(response.iter_raw())
    assert (response.headers.get("content-encoding") == "gzip") is coded
    assert b'"lists"' in (gzip.decompress(raw) if coded else raw)
    assert "Accept-Encoding" in response.headers["vary"]


def test_pages_link_to_each_other_and_hold_everything_once(client: TestClient) -> None:
    address, seen = "/v1/plants?q=a&limit=100", []
    while address:
        response = client.get(address)
        seen += [plant["plant_id"] for plant in response.json()["plants"]]
        address = response.links.get("next", {}).get("url", "")
    assert len(seen) == len(set(seen)) == response.json()["total"] > 200
    assert response.links["first"]["url"] == "/v1/plants?q=a&limit=100&offset=0"
    assert "prev" in response.links


@pytest.mark.parametrize("path", ["/v1/lists", "/v1/lists/us-wi-nr40/entries", "/v1/plants"])
def test_a_page_beyond_the_end_is_empty_and_links_back(client: TestClient, path: str) -> None:
    response = client.get(path, params={"offset": 9_000, "limit": 10})
    assert response.status_code == 200
    assert "next" not in response.links
    assert {"first", "prev", "last"} <= set(response.links)


def test_an_answer_begun_before_midnight_is_of_one_day(reference_path: Path) -> None:
    client = fresh(reference_path, response_cache_mb=0)
    moments = iter(datetime(2026, 6, 1 + step // 1, 0, 0, tzinfo=UTC) for step in range(5))
    with patch.object(person, "datetime", wraps=datetime) as clock:
        clock.now.side_effect = lambda *_: next(moments)
        answer = client.get(FINDING)
    assert answer.json()["as_of"] == "2026-06-01"


def test_a_clock_set_back_gives_that_day_s_answer_again(reference_path: Path) -> None:
    client = fresh(reference_path)
    with patch.object(person, "datetime", wraps=datetime) as clock:
        days = []
        for day in (1, 2, 1):
            clock.now.return_value = datetime(2026, 6, day, 12, tzinfo=UTC)
            days.append(client.get(FINDING).json()["as_of"])
    assert days == ["2026-06-01", "2026-06-02", "2026-06-01"]


def test_touching_the_file_alone_changes_no_tag(tmp_path: Path) -> None:
    store = tmp_path / "reedgate.db"
    copied(reference_store(), store)
    client = fresh(store)
    tag = client.get(FINDING).headers["etag"]
    os.utime(store)
    assert client.get(FINDING).headers["etag"] == tag
