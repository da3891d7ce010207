"""Media types asked for and sent."""

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from service.api.negotiation import preferred, takes_gzip

JSON, CSV, HTML = "application/json", "text/csv", "text/html"


@pytest.mark.parametrize(
    ("header", "best"),
    [
        ("", JSON),
        ("*/*", JSON),
        ("text/csv", CSV),
        ("text/csv;q=0.5, application/json;q=0.4", CSV),
        ("text/*", CSV),
        (
            "text/*;q=0.3, text/html;q=0.7",
            HTML,
        ),  # the more particular range decides (RFC 9110, 12.5.1)
        ("application/json;q=0, */*", CSV),
        ("text/html, application/xhtml+xml, application/xml;q=0.9, */*;q=0.8", HTML),
        ("application/json;q=0", None),
        ("image/png", None),
        ("TEXT/CSV", CSV),
        ("text/csv;charset=utf-8", CSV),
        ("text/csv;q=abc", None),
    ],
)
def test_the_type_liked_best_is_given(header: str, best: str | None) -> None:
    assert preferred(header, (JSON, CSV, HTML)) == best


@given(st.text(max_size=80))
def test_any_header_is_taken_without_a_failure(header: str) -> None:
    assert preferred(header, (JSON, CSV)) in (JSON, CSV, None)
    assert takes_gzip(header) in (True, False)


@pytest.mark.parametrize(
    "path",
    [
        "/v1/names?label=cattail",
        "/v1/lists",
        "/v1/plants",
        "/health/live",
        "/health/ready",
        "/v1/coverage",
    ],
)
def test_json_alone_is_refused_to_one_who_wants_something_else(
    client: TestClient, path: str
) -> None:
    response = client.get(path, headers={"Accept": "text/csv"})
    assert response.status_code == 406
    assert response.headers["content-type"] == "application/problem+json"
    assert "application/json" in response.json()["detail"]


@pytest.mark.parametrize(
    ("path", "kind"), [("/metrics", "text/plain"), ("/v1/coverage/map", "image/svg+xml")]
)
def test_other_types_are_given_to_those_who_take_them(
    client: TestClient, path: str, kind: str
) -> None:
    assert client.get(path, headers={"Accept": kind}).headers["content-type"].startswith(kind)
    assert client.get(path, headers={"Accept": JSON}).status_code == 406


@pytest.mark.parametrize("path", ["/v1/names", "/v1/stock-checks", "/v1/plan-checks"])
def test_a_body_of_another_type_is_refused_with_the_types_that_are_taken(
    client: TestClient, path: str
) -> None:
    response = client.post(path, content="<a/>", headers={"Content-Type": "application/xml"})
    assert response.status_code == 415
    assert JSON in response.headers["accept"]


def test_what_is_refused_is_told_as_a_problem_whatever_was_asked_for(client: TestClient) -> None:
    response = client.get("/v1/plants/nobody", headers={"Accept": "application/json"})
    assert (response.status_code, response.headers["content-type"]) == (
        404,
        "application/problem+json",
    )


@pytest.mark.parametrize("path", ["/v1/names", "/v1/lists/us-wi-nr40"])
def test_a_method_that_is_not_taken_is_405_with_those_that_are(
    client: TestClient, path: str
) -> None:
    response = client.put(path)
    assert response.status_code == 405
    assert {"GET", "HEAD"} <= {method.strip() for method in response.headers["allow"].split(",")}
