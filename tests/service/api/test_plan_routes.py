"""Plan checks, community screenings and jobs over HTTP."""

import csv
import io
import json
import time
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api.app import create_app
from service.api.routes import communities
from tests.service.demo_stores import COMMUNITY, PLAN, demo_path

GEOJSON = {"content-type": "application/geo+json"}
SITE = {"type": "Feature", "geometry": {"type": "Point", "coordinates": [-84.2921, 41.6832]}}


@pytest.fixture(scope="module")
def plans() -> Iterator[TestClient]:
    with TestClient(create_app(demo_path()), raise_server_exceptions=False) as client:
        yield client


def sites(count: int, **head: Any) -> bytes:
    features = [
        {
            **SITE,
            "properties": {
                "name": f"site {number}",
                "place_kind": "pond",
                "plantings": "Iris pseudacorus",
            },
        }
        for number in range(count)
    ]
    return json.dumps({"type": "FeatureCollection", "features": features, **head}).encode()


def test_a_plan_is_answered_as_json_with_numbered_sources(plans: TestClient) -> None:
    answer = plans.post(
        "/v1/plan-checks", content=PLAN.read_bytes(), headers={"content-type": "application/json"}
    )
    assert answer.status_code == 200
    document_out = answer.json()
    assert {
        "store_build",
        "as_of",
        "cautions",
        "site",
        "plantings",
        "decisions",
        "shopping_list",
        "confirm",
        "sources",
        "problems",
    } <= set(document_out)
    assert document_out["as_of"] == "2026-06-01"
    assert len(document_out["plantings"]) == 12
    numbers = {source["number"] for source in document_out["sources"]}
    assert all(set(planting["sources"]) <= numbers for planting in document_out["plantings"])


@pytest.mark.parametrize(
    ("accept", "begins"),
    [
        ("text/html", "<!doctype html>"),
        ("application/geo+json", '{"type":"FeatureCollection"'),
        ("text/csv", "label,"),
        ("application/geopackage+sqlite3", "SQLite format 3"),
        ("application/json", "{"),
    ],
)
def test_a_plan_comes_in_the_form_that_is_asked_for(
    plans: TestClient, accept: str, begins: str
) -> None:
    answer = plans.post(
        "/v1/plan-checks",
        content=PLAN.read_bytes(),
        headers={"content-type": "application/json", "accept": accept},
    )
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(accept)
    assert answer.text.startswith(begins)


def test_a_form_that_is_not_offered_is_refused(plans: TestClient) -> None:
    answer = plans.post(
        "/v1/plan-checks",
        content=PLAN.read_bytes(),
        headers={"content-type": "application/json", "accept": "image/png"},
    )
    assert answer.status_code == 406


def test_a_table_goes_in_with_the_site_in_the_query_and_comes_out_again(plans: TestClient) -> None:
    table = "label,count,place,place_kind\r\nPontederia cordata,6,Mill pond,pond\r\n"
    query = {"state": "OH", "county": "Fulton", "zip": "43594", "on": "2026-06-01"}
    headers = {"content-type": "text/csv", "accept": "text/csv"}
    first = plans.post("/v1/plan-checks", params=query, content=table, headers=headers)
    assert first.status_code == 200
    row = next(csv.DictReader(io.StringIO(first.text)))
    assert (row["accepted_name"], row["site_county"]) == ("Pontederia cordata", "Fulton")
    again = plans.post("/v1/plan-checks", content=first.content, headers=headers)
    assert again.text == first.text
    here = plans.post(
        "/v1/plan-checks",
        params={"at": "-84.2921,41.6832"},
        content=table,
        headers={"content-type": "text/csv"},
    ).json()
    assert here["site"]["downstream_states"] == ["US-MI"]


def test_a_planting_at_fault_is_named_and_the_others_answered(plans: TestClient) -> None:
    document = {
        "site": {"state": "US-OH"},
        "plantings": [{"label": "Iris", "cuont": 2}, {"label": "Typha latifolia"}],
    }
    answer = plans.post("/v1/plan-checks", json=document).json()
    assert [planting["label"] for planting in answer["plantings"]] == ["Iris", "Typha latifolia"]
    assert answer["problems"][0]["pointer"] == "/plantings/0/cuont"


@pytest.mark.parametrize(
    ("content", "pointer"),
    [
        (b'{"site": {"state": "US-OH"}, "plantings": []}', "/plantings"),
        (b'{"site": {"state": "US-OH"}, "date": "soon", "plantings": ["Iris"]}', "/date"),
        (b'{"plantings": ["Iris"]}', "/site"),
        (b"not json", ""),
    ],
)
def test_a_plan_that_cannot_be_answered_is_a_problem_with_a_pointer(
    plans: TestClient, content: bytes, pointer: str
) -> None:
    answer = plans.post(
        "/v1/plan-checks", content=content, headers={"content-type": "application/json"}
    )
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["pointer"] == pointer


def test_explaining_brings_factors_and_what_the_escape_hangs_on(plans: TestClient) -> None:
    document = {
        "site": {"zip": "43594"},
        "places": [{"name": "Pond", "kind": "pond"}],
        "plantings": ["Iris pseudacorus"],
    }
    plain = plans.post("/v1/plan-checks", json=document).json()["plantings"][0]
    answer = plans.post("/v1/plan-checks?explain=true", json=document).json()["plantings"][0]
    assert plain["sensitivity"] is None
    assert plain["escape"]["waters"][0]["leaves"]["factors"] == []
    assert answer["sensitivity"]["effects"]
    assert answer["escape"]["waters"][0]["leaves"]["factors"]
    assert answer["escape"]["likely"] == plain["escape"]["likely"]


@pytest.mark.parametrize(
    ("accept", "begins"),
    [
        ("application/json", "{"),
        ("application/geo+json", '{"type":"FeatureCollection"'),
        ("text/csv", "site,"),
        ("text/html", "<!doctype html>"),
        ("application/geopackage+sqlite3", "SQLite format 3"),
    ],
)
def test_a_small_screening_is_answered_at_once(plans: TestClient, accept: str, begins: str) -> None:
    answer = plans.post(
        "/v1/community-screenings",
        content=COMMUNITY.read_bytes(),
        headers={**GEOJSON, "accept": accept},
    )
    assert answer.status_code == 200
    assert answer.text.startswith(begins)


def test_a_large_screening_becomes_a_job_with_progress_and_a_result(
    plans: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(communities, "AT_ONCE", 20)
    begun = plans.post(
        "/v1/community-screenings",
        content=sites(communities.AT_ONCE + 1, date="2026-06-01"),
        headers=GEOJSON,
    )
    assert begun.status_code == 202
    assert begun.headers["location"] == begun.json()["address"]
    assert int(begun.headers["retry-after"]) >= 1
    answer = _finished(plans, begun.headers["location"])
    assert (answer["state"], answer["done"], answer["total"]) == (
        "done",
        communities.AT_ONCE + 1,
        communities.AT_ONCE + 1,
    )
    result = plans.get(answer["result"])
    assert result.status_code == 200
    assert len(result.json()["sites"]) == communities.AT_ONCE + 1
    table = plans.get(answer["result"], headers={"accept": "text/csv"})
    assert len(list(csv.DictReader(io.StringIO(table.text)))) == communities.AT_ONCE + 1


def test_any_screening_is_a_job_where_the_client_prefers_so(plans: TestClient) -> None:
    at_once = plans.post(
        "/v1/community-screenings", content=sites(2, date="2026-06-01"), headers=GEOJSON
    )
    begun = plans.post(
        "/v1/community-screenings",
        content=sites(2, date="2026-06-01"),
        headers={**GEOJSON, "prefer": "respond-async"},
    )
    assert (at_once.status_code, begun.status_code) == (200, 202)
    assert begun.headers["preference-applied"] == "respond-async"
    answer = _finished(plans, begun.headers["location"])
    assert plans.get(answer["result"]).json() == at_once.json()


def test_a_job_given_up_is_gone(plans: TestClient) -> None:
    address = plans.post(
        "/v1/community-screenings?begin=true", content=sites(3), headers=GEOJSON
    ).headers["location"]
    assert plans.delete(address).json()["state"] == "cancelled"
    assert plans.get(address).status_code == 404
    assert plans.get(f"{address}/result").status_code == 404


def test_a_job_that_nobody_began_is_not_found(plans: TestClient) -> None:
    answer = plans.get("/v1/jobs/nobody")
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_collection_without_a_site_is_refused_with_a_pointer(plans: TestClient) -> None:
    answer = plans.post(
        "/v1/community-screenings", content=b'{"type": "Topology"}', headers=GEOJSON
    )
    assert (answer.status_code, answer.json()["pointer"]) == (422, "/type")


def _finished(client: TestClient, address: str) -> dict[str, Any]:
    end = time.monotonic() + 60
    while time.monotonic() < end:
        answer = client.get(address)
        job: dict[str, Any] = answer.json()
        if answer.status_code == 200:
            return job
        assert answer.status_code == 202
        assert answer.headers["retry-after"]
        time.sleep(0.02)
    raise AssertionError("the job did not finish")
