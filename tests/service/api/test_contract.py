"""The committed OpenAPI file and curl examples are those that the service stands by, and every
example in them holds.
"""

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from jsonschema import Draft202012Validator

from service.api.app import TAGS, create_app
from service.api.contract import curl_examples, document, operations
from service.api.examples import Example, answer, examples
from tests.service.api.demo_store import build_demo_store, send
from tests.service.api.serving import served

CONTRACT: dict[str, Any] = json.loads(document(create_app(Path("unused.db"))))
OPERATIONS = {
    operation["operationId"]: (path, method, operation)
    for path, method, operation in operations(CONTRACT)
}

# What version 1 promises; things are added to it, never taken away.
VERSION_1 = {
    "GET /v1/names": {"label"},
    "GET /v1/plants": {"q"},
    "GET /v1/plants/{plant_id}": {"plant_id"},
    "GET /v1/lists": set(),
    "GET /v1/lists/{list_id}": {"list_id"},
    "GET /v1/lists/{list_id}/entries": {"list_id"},
    "GET /v1/changes": {"since", "until", "jurisdiction"},
    "GET /v1/changes.atom": {"jurisdiction"},
    "GET /v1/findings": {"label", "jurisdiction", "act", "county", "on"},
    "POST /v1/stock-checks": set(),
    "POST /v1/plan-checks": set(),
    "POST /v1/community-screenings": set(),
    "GET /v1/waters": {"near", "within_m"},
    "GET /v1/waters/{water_id}": {"water_id"},
    "GET /v1/occurrences/evidence": {"label", "near"},
    "GET /v1/sources": set(),
    "GET /v1/coverage": set(),
    "GET /health/live": set(),
    "GET /health/ready": set(),
}


@pytest.fixture(scope="module")
def demo_client(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    store = tmp_path_factory.mktemp("demo") / "reedgate.db"
    build_demo_store(store)
    return TestClient(create_app(store), raise_server_exceptions=False)


def test_the_committed_contract_is_current() -> None:
    committed = Path("openapi/reedgate.json").read_text(encoding="utf-8")
    assert committed == document(create_app(Path("unused.db"))), (
        "run: python -m service.api.contract openapi/reedgate.json"
    )


def test_the_committed_curl_examples_are_current() -> None:
    assert Path("openapi/examples.sh").read_text(encoding="utf-8") == curl_examples(
        create_app(Path("unused.db"))
    )


def test_the_contract_is_openapi_3_1() -> None:
    assert CONTRACT["openapi"].startswith("3.1.")


def test_nothing_that_version_1_promises_is_gone() -> None:
    offered = {
        f"{method.upper()} {path}": {
            parameter["name"] for parameter in operation.get("parameters", ())
        }
        for path, method, operation in operations(CONTRACT)
    }
    for operation, parameters in VERSION_1.items():
        assert parameters <= offered.get(operation, {"missing"}), operation


def test_tags_follow_a_user_s_work() -> None:
    order = [tag["name"] for tag in TAGS]
    seen = [
        operation["tags"][0] for _, _, operation in OPERATIONS.values() if operation.get("tags")
    ]
    assert set(seen) <= set(order)
    assert [order.index(tag) for tag in seen] == sorted(order.index(tag) for tag in seen)


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_operation_has_an_example_request_and_answer(name: str) -> None:
    _, _, operation = OPERATIONS[name]
    assert name in examples(), (
        "add it to service/api/examples/requests.toml, then run: python -m tests.service.api.renew_examples"
    )
    content = operation["responses"]["200"].get("content", {})
    if "application/json" in content:
        assert "example" in content["application/json"], (
            "run: python -m tests.service.api.renew_examples"
        )
    for status, response in operation["responses"].items():
        if int(status) >= 400:
            shown = response["content"]["application/problem+json"]
            assert shown.get("examples") or shown.get("example"), (name, status)


@pytest.mark.parametrize("name", OPERATIONS)
def test_the_answer_kept_for_an_operation_fits_its_schema(name: str) -> None:
    kept, content = answer(name), OPERATIONS[name][2]["responses"]["200"].get("content", {})
    schema = content.get("application/json", {}).get("schema")
    if kept is not None and schema:
        Draft202012Validator({**schema, "components": CONTRACT["components"]}).validate(kept)


@pytest.mark.parametrize("status", [401, 403, 404, 406, 413, 415, 422, 429, 503])
def test_the_example_of_every_refusal_is_a_problem(status: int) -> None:
    example = CONTRACT["components"]["examples"][f"problem_{status}"]["value"]
    assert example["status"] == status
    Draft202012Validator(
        {"$ref": "#/components/schemas/Problem", "components": CONTRACT["components"]}
    ).validate(example)


@pytest.mark.parametrize(
    "example",
    [example for kept in examples().values() for example in kept],
    ids=lambda example: example.operation_id,
)
def test_every_example_request_is_answered(demo_client: TestClient, example: Example) -> None:
    path, method, operation = OPERATIONS[example.operation_id]
    response = send(demo_client, example, method, path)
    assert response.status_code == 200, response.text
    assert (
        response.headers["content-type"].partition(";")[0]
        in operation["responses"]["200"]["content"]
    )


@pytest.mark.skipif(not shutil.which("curl"), reason="curl is not installed")
def test_the_curl_examples_run_as_they_stand(reference_path: Path) -> None:
    with served(reference_path) as running:
        script = subprocess.run(
            ["bash", "openapi/examples.sh"],
            capture_output=True,
            text=True,
            check=False,
            env={**os.environ, "REEDGATE_URL": running.url},
        )
    assert script.returncode == 0, script.stderr
    assert '"store_build"' in script.stdout
