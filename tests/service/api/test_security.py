"""Headers of every answer, and that none tells of the inside."""

import re
from pathlib import Path

import pytest
from fastapi import APIRouter
from fastapi.testclient import TestClient

from service.api.app import create_app
from service.api.security import content_policy, style_sources
from service.settings import Settings

EVERY = [
    "/v1/names?label=cattail",
    "/v1/plants/nobody",
    "/nowhere",
    "/v1/findings",
    "/health/live",
    "/metrics",
    "/openapi.json",
]


@pytest.mark.parametrize("path", EVERY)
def test_every_answer_carries_the_protective_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["referrer-policy"] == "no-referrer"
    assert "default-src 'none'" in headers["content-security-policy"]
    assert re.fullmatch(r"[0-9a-f]{16}", headers["x-request-id"])
    assert "server" not in headers


def test_a_request_id_is_given_back_unless_it_could_forge_a_log_line(client: TestClient) -> None:
    assert (
        client.get("/health/live", headers={"X-Request-Id": "order-2026.06_1"}).headers[
            "x-request-id"
        ]
        == "order-2026.06_1"
    )
    for forged in ("a b", "x" * 65, '{"level":"info"}', ""):
        assert (
            client.get("/health/live", headers={"X-Request-Id": forged}).headers["x-request-id"]
            != forged
        )


def test_a_page_may_use_what_comes_from_here_and_the_styles_named_by_their_hash() -> None:
    page = b"<style>p { color: red }</style><style media=print>a{}</style>"
    policy = content_policy("text/html", style_sources(page))
    assert policy.count("'sha256-") == 2
    assert "unsafe" not in policy
    assert "script-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "sandbox" in content_policy("application/json")


def test_pages_of_other_origins_may_not_read_the_answers_unless_named(reference_path: Path) -> None:
    asked = {"Origin": "https://shop.example"}
    closed = TestClient(create_app(reference_path, Settings()))
    assert (
        "access-control-allow-origin"
        not in closed.get("/v1/names?label=cattail", headers=asked).headers
    )
    opened = TestClient(
        create_app(reference_path, Settings(cors_origins=("https://shop.example",)))
    )
    assert (
        opened.get("/v1/names?label=cattail", headers=asked).headers["access-control-allow-origin"]
        == "https://shop.example"
    )
    other = opened.get("/v1/names?label=cattail", headers={"Origin": "https://else.example"})
    assert "access-control-allow-origin" not in other.headers
    preflight = opened.options(
        "/v1/stock-checks", headers={**asked, "Access-Control-Request-Method": "POST"}
    )
    assert preflight.status_code == 200
    assert "POST" in preflight.headers["access-control-allow-methods"]


def test_origins_are_read_from_the_environment_separated_by_commas() -> None:
    environment = {"REEDGATE_CORS_ORIGINS": "https://a.example, https://b.example", "HOME": "/"}
    assert Settings.of(environment).cors_origins == ("https://a.example", "https://b.example")


def test_an_unforeseen_error_tells_nothing_of_the_inside(
    reference_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    app = create_app(reference_path, Settings())
    faulty = APIRouter()

    @faulty.get("/v1/faulty")
    def fail() -> None:
        raise RuntimeError("secret in /srv/reedgate/reedgate.db")

    app.include_router(faulty)
    response = TestClient(app, raise_server_exceptions=False).get("/v1/faulty")
    assert response.status_code == 500
    assert response.headers["content-type"] == "application/problem+json"
    assert response.headers["x-request-id"]
    for inside in ("secret", "srv", "RuntimeError", "Traceback", ".py"):
        assert inside not in response.text
    assert any(record.name == "reedgate.failures" and record.exc_info for record in caplog.records)


@pytest.mark.parametrize(
    "path",
    [
        "/../../etc/passwd",
        "/static/../../etc/passwd",
        "/static/%2e%2e/%2e%2e/settings.py",
        "/%00",
        "/v1/plants/%00",
    ],
)
def test_a_path_that_would_leave_the_service_finds_nothing(client: TestClient, path: str) -> None:
    response = client.get(path)
    assert response.status_code == 404
    assert "root:" not in response.text


def test_no_answer_names_a_path_of_the_machine(tmp_path: Path) -> None:
    missing = TestClient(
        create_app(tmp_path / "deep" / "none.db", Settings()), raise_server_exceptions=False
    )
    for path in ("/v1/names?label=x", "/health/ready", "/v1/lists"):
        response = missing.get(path)
        assert response.status_code == 503
        assert str(tmp_path) not in response.text


def test_the_page_runs_nothing_but_its_own_files(client: TestClient) -> None:
    page = client.get("/", headers={"Accept": "text/html"})
    assert page.status_code == 200
    policy = page.headers["content-security-policy"]
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy
    # A block of type JSON is data that no browser runs.
    inline = re.findall(r"<script(?![^>]*\ssrc=)([^>]*)>", page.text)
    assert all('type="application/json"' in attributes for attributes in inline)
    assert re.search(r"\s(on\w+|style)=", page.text) is None
