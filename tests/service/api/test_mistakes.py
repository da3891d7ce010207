"""A mistake in what is asked is answered as one, with its place and what was meant."""

from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx import Response

FINDING = "/v1/findings?label=cattail&jurisdiction=US-OH"
EVERY_ACT = [
    "import",
    "export",
    "sell",
    "buy",
    "give",
    "transport",
    "possess",
    "propagate",
    "plant",
    "release",
]


def problem(response: Response, status: int = 422) -> dict[str, Any]:
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    refusal: dict[str, Any] = response.json()
    return refusal


@pytest.mark.parametrize(
    ("query", "name", "meant"),
    [
        ("acts=possess", "acts", "act"),
        ("Act=possess", "Act", "act"),
        ("on_date=2026-06-01", "on_date", None),
        ("countty=Fulton", "countty", "county"),
    ],
)
def test_a_parameter_that_is_not_known_is_named_with_the_one_that_was_meant(
    client: TestClient, query: str, name: str, meant: str | None
) -> None:
    refusal = problem(client.get(f"{FINDING}&{query}"))
    assert refusal["pointer"] == name
    if meant:
        assert f"{name}: did you mean {meant}?" in refusal["detail"]
    assert "jurisdiction" in refusal["next_step"]


@pytest.mark.parametrize(
    "extra", ["jurisdiction=US-WI", "label=hydrilla", "on=2026-01-01&on=2025-01-01"]
)
def test_a_parameter_given_twice_is_not_answered_for_the_later_value(
    client: TestClient, extra: str
) -> None:
    refusal = problem(client.get(f"{FINDING}&{extra}"))
    assert refusal["pointer"] == extra.partition("=")[0]


def test_acts_may_be_given_one_by_one_or_together(client: TestClient) -> None:
    apart = client.get(f"{FINDING}&act=sell&act=possess").json()
    together = client.get(f"{FINDING}&act=sell,possess").json()
    assert [finding["act"] for finding in apart["findings"]] == ["sell", "possess"]
    assert apart["findings"] == together["findings"]


def test_every_route_refuses_a_parameter_that_it_does_not_know(client: TestClient) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    for path, item in paths.items():
        for method in item:
            address = path.replace("{kind}", "waters")
            response = client.request(method, f"{address}?no_such_parameter=1")
            if response.status_code in (401, 403):
                continue  # who may not ask is refusal that first
            assert problem(response)["pointer"] == "no_such_parameter", (method, path)


def test_several_mistakes_are_told_at_once(client: TestClient) -> None:
    refusal = problem(client.get(f"{FINDING}&acts=sell&label=hydrilla"))
    assert {part["pointer"] for part in refusal["errors"]} == {"acts", "label"}


@pytest.mark.parametrize(
    ("body", "pointer", "said"),
    [
        (b'{"labels": ["a"], "to": ["US-OH"], "acts": ["sell"]}', "/acts", "did you mean act?"),
        (b'{"labels": ["a"], "to": ["US-OH"], "to": ["US-WI"]}', "/to", "more than once"),
        (b'{"labels": ["a", 7], "to": ["US-OH"]}', "/labels/1", "string"),
        (b'{"labels": ["\\ud800"], "to": ["US-OH"]}', "", "half of a character"),
        (b'{"labels": ["a"], "to": ["US-OH"], "on": 20260101}', "/on", "2026-06-01"),
        (b'{"labels": ["a"]}', "/to", "required"),
    ],
)
def test_a_mistake_in_a_body_has_a_pointer(
    client: TestClient, body: bytes, pointer: str, said: str
) -> None:
    refusal = problem(client.post("/v1/stock-checks", content=body))
    assert refusal["pointer"] == pointer
    assert said in refusal["detail"]


def test_a_key_given_twice_is_found_wherever_it_is(client: TestClient) -> None:
    body = b'{"site": {"state": "US-OH"}, "plantings": ["a", {"label": "b", "label": "c"}]}'
    refusal = problem(client.post("/v1/plan-checks", content=body))
    assert refusal["pointer"] == "/plantings/1/label"


def test_a_parameter_beside_a_body_that_has_its_own_key_is_not_passed_over(
    client: TestClient,
) -> None:
    body = {"labels": ["cattail"], "to": ["US-OH"]}
    refusal = problem(client.post("/v1/stock-checks?to=US-WI", json=body))
    assert refusal["pointer"] == "to"
    plan = {"site": {"state": "US-OH"}, "plantings": ["cattail"]}
    refusal = problem(client.post("/v1/plan-checks?state=US-WI&at=", json=plan))
    assert [part["pointer"] for part in refusal["errors"]] == ["at", "state"]


def test_federal_law_is_not_asked_by_county(client: TestClient) -> None:
    refusal = problem(client.get("/v1/findings?label=cattail&jurisdiction=US&county=Franklin"))
    assert (refusal["pointer"], refusal["next_step"]) == (
        "county",
        "Leave the county out, or name its state.",
    )


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/v1/names", b'{"labels": [%s]}'),
        ("/v1/stock-checks", b'{"labels": [%s], "to": ["US-OH"]}'),
        ("/v1/plan-checks", b'{"site": {"state": "US-OH"}, "plantings": [{"count": %s}]}'),
        ("/v1/community-screenings", b'{"type": "FeatureCollection", "features": [%s]}'),
    ],
)
@pytest.mark.parametrize("number", [b"9" * 5_000, b"-" + b"9" * 400_000, b"1e999", b"NaN"])
def test_a_number_that_nothing_takes_is_refused(
    client: TestClient, path: str, body: bytes, number: bytes
) -> None:
    problem(client.post(path, content=body % number))


def test_half_a_character_is_refused_by_the_names_too(client: TestClient) -> None:
    refusal = problem(client.post("/v1/names", content=b'{"labels": ["\\ud800"]}'))
    assert "half of a character" in refusal["detail"]


def test_labels_by_places_by_acts_have_a_limit(client: TestClient) -> None:
    body = {"labels": ["cattail"] * 3_000, "to": ["all"], "act": EVERY_ACT}
    refusal = problem(client.post("/v1/stock-checks", json=body), 413)
    assert "1,530,000 findings" in refusal["detail"]


def test_every_problem_has_an_address_where_its_kind_is_explained(client: TestClient) -> None:
    refusal = problem(client.get(f"{FINDING}&acts=possess"))
    kind = client.get(refusal["type"])
    assert kind.status_code == 200
    assert (kind.json()["status"], kind.json()["title"]) == (422, refusal["title"])


def test_a_path_with_a_slash_too_many_leads_nowhere_else(client: TestClient) -> None:
    response = client.get("/v1/plants/", headers={"Host": "evil.example"}, follow_redirects=False)
    assert problem(response, 404)["type"] == "/problems/no-such-address"
    assert "location" not in response.headers
    assert "evil" not in response.text


@pytest.mark.parametrize(
    "address",
    [
        "/v1/names?label=zzzqx",
        "/v1/findings?label=zzzqx&jurisdiction=US-OH",
        "/v1/occurrences/evidence?label=zzzqx&near=-84.29,41.62",
    ],
)
def test_a_label_that_no_plant_is_known_by_is_answered_alike_everywhere(
    client: TestClient, address: str
) -> None:
    response = client.get(address)
    assert response.status_code == 200, response.text
    assert "zzzqx" in response.text
