"""The OpenAPI document and the curl examples, as committed under ``openapi/``.

    python -m service.api.contract openapi/reedgate.json

writes both. What the routes declare is completed here with what every route has in common: the
answers that refuse a request, the headers, the examples, and the links from one answer to the next
request.
"""

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from service.api import problems, schemas
from service.api.examples import Example, answer, examples
from service.api.late import LateRoutes
from service.api.problems import Problem, problem

REFUSALS: dict[int, tuple[str, Problem]] = {
    401: ("A token is needed, or the one sent is not valid", problems.NO_TOKEN),
    403: ("The token does not allow this", problems.WRONG_SCOPE),
    404: (
        "Nothing has this id",
        problem(
            "not-found",
            "No plant has the id 'nobody'.",
            "Look it up by name: GET /v1/plants?q=",
        ),
    ),
    406: (
        "The answer comes in no type that was asked for",
        problem("not-acceptable", "The answer comes as application/json."),
    ),
    408: ("The body came too slowly", problems.TOO_SLOW),
    409: ("The store is read from an address, and not written here", problems.STORE_PUBLISHED),
    413: (
        "The request is over a limit",
        problem(
            "too-large",
            "The body in bytes passes the limit of 20,000,000.",
            "Send it in parts, or raise the limit.",
        ),
    ),
    415: (
        "The body is of a type that is not read here",
        problem(
            "unsupported-media-type",
            "A body of type 'text/plain' is not read here; send application/json.",
        ),
    ),
    422: (
        "The request cannot be read; the pointer says where",
        problem(
            "bad-request",
            "The parameter 'acts' is not known: did you mean act?",
            "Correct the name, or leave it out.",
        ).model_copy(update={"pointer": "acts"}),
    ),
    429: ("The client asks more often than the service allows", problems.TOO_MANY),
    503: (
        "There is no store to answer from, the service is busy, or the time limit was passed",
        problem("store-missing", "There is no store at reedgate.db."),
    ),
}
"""By status: when it comes, and an example of it."""


_PROBLEM = {"$ref": "#/components/schemas/Problem"}
_DIALECT = "https://spec.openapis.org/oas/3.1/dialect/base"

# From the answer of one operation to the parameter of another.
_LINKS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "resolve_name": (("get_plant", "plant_id", "$response.body#/candidates/0/plant_id"),),
    "find_plants": (("get_plant", "plant_id", "$response.body#/plants/0/plant_id"),),
    "get_lists": (
        ("get_list", "list_id", "$response.body#/lists/0/list_id"),
        ("get_list_entries", "list_id", "$response.body#/lists/0/list_id"),
    ),
    "get_list_entries": (("get_plant", "plant_id", "$response.body#/entries/0/plant_id"),),
    "find_waters": (("get_water", "water_id", "$response.body#/near/0/water/water_id"),),
}
_MOMENTARY = ("/health", "/metrics", "/v1/jobs")
_OPEN = ("/health", "/problems")
_UNLIMITED = ("/health", "/metrics")
_PAGED = ("find_plants", "get_lists", "get_list_entries")

_RATE = {
    "RateLimit-Policy": {
        "description": "where a rate is set: the quota, and the seconds in which it is whole again",
        "schema": {"type": "string"},
        "example": '"client";q=60;w=60',
    },
    "RateLimit": {
        "description": "where a rate is set: requests left, and seconds until the quota is whole",
        "schema": {"type": "string"},
        "example": '"client";r=59;t=1',
    },
}
_WAIT = {
    "Retry-After": {"description": "seconds to wait", "schema": {"type": "integer", "minimum": 0}}
}


def install(app: FastAPI, late: LateRoutes) -> None:
    """Have the app serve the completed contract, the routes that are loaded late among them."""

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            late.load_all()
            app.openapi_schema = _completed(app)
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]


def operations(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Path template, method and operation, of each."""
    for path, item in document["paths"].items():
        for method, operation in item.items():
            yield path, method, operation


def _completed(app: FastAPI) -> dict[str, Any]:
    document = get_openapi(
        title=app.title,
        version=app.version,
        summary=app.summary,
        description=app.description,
        license_info=app.license_info,
        contact={"name": "Whoever operates this service"},
        tags=app.openapi_tags,
        routes=app.routes,
    )
    document["jsonSchemaDialect"] = _DIALECT
    document["servers"] = [
        {"url": "/", "description": "where the service runs; http://127.0.0.1:8000 by default"}
    ]
    components = document.setdefault("components", {})
    problem = problems.Problem.model_json_schema(ref_template="#/components/schemas/{model}")
    components.setdefault("schemas", {}).update(problem.pop("$defs"), Problem=problem)
    for unused in ("HTTPValidationError", "ValidationError"):
        components["schemas"].pop(unused, None)
    components["securitySchemes"] = {
        "token": {
            "type": "http",
            "scheme": "bearer",
            "description": "needed where the operator asks for it, and for every load",
        }
    }
    components["examples"] = {
        f"problem_{status}": {"summary": summary, "value": example.model_dump(exclude_none=True)}
        for status, (summary, example) in REFUSALS.items()
    }
    for path, method, operation in operations(document):
        _complete(path, method, operation)
    components["schemas"].update(schemas.body_components())
    schemas.complete_arrays(document)
    schemas.share(document)
    schemas.name_choices(document)
    document["paths"] = dict(
        sorted(document["paths"].items(), key=lambda entry: _place(app, entry[1]))
    )
    return document


def _place(app: FastAPI, item: dict[str, Any]) -> int:
    """Where a path stands among the user's steps: the order of the tags."""
    names = [tag["name"] for tag in app.openapi_tags or ()]
    tags = [tag for operation in item.values() for tag in operation.get("tags", ())]
    return min((names.index(tag) for tag in tags if tag in names), default=len(names))


def _complete(path: str, method: str, operation: dict[str, Any]) -> None:
    name = operation["operationId"]
    if "tags" in operation:
        # A route's own tag stands last and counts; those of its router are for routes without.
        operation["tags"] = operation["tags"][-1:]
    operation.setdefault("security", [{}, {"token": []}])
    if path.startswith(_OPEN):
        operation["security"] = [{}]
    _add_refusals(path, method, operation)
    success = operation["responses"]["200"]
    success["headers"] = {
        "X-Request-Id": {
            "description": "the one sent, or one made here; it is in the log",
            "schema": {"type": "string"},
        },
        **_success_headers(path, method, name),
        **({} if path.startswith(_UNLIMITED) else _RATE),
    }
    _add_links(name, success)
    given = examples().get(name, ())
    if given:
        _add_request_examples(operation, given)
        _add_answer(success, answer(name))


def _success_headers(path: str, method: str, name: str) -> dict[str, Any]:
    headers: dict[str, Any] = {}
    if method == "get" and not path.startswith(_MOMENTARY):
        headers["ETag"] = {
            "description": "stands for the build, the day and the request",
            "schema": {"type": "string"},
        }
        headers["Cache-Control"] = {
            "description": "how long the answer may be used again",
            "schema": {"type": "string"},
        }
        headers["Vary"] = {
            "description": "request headers that the answer depends on",
            "schema": {"type": "string"},
        }
    if name in _PAGED:
        headers["Link"] = {
            "description": "the other pages (RFC 8288): first, prev, next, last",
            "schema": {"type": "string"},
        }
    return headers


def _add_refusals(path: str, method: str, operation: dict[str, Any]) -> None:
    responses = operation["responses"]
    # What the framework and the routes declare of refusals is said in one way for all.
    for status in REFUSALS:
        responses.pop(str(status), None)
    for status in _statuses(path, method, operation):
        summary, _ = REFUSALS[status]
        responses[str(status)] = {
            "description": summary,
            "content": {
                problems.MEDIA_TYPE: {
                    "schema": _PROBLEM,
                    "examples": {"problem": {"$ref": f"#/components/examples/problem_{status}"}},
                }
            },
        }
        if status in (429, 503):
            responses[str(status)]["headers"] = {**_WAIT, **_RATE} if status == 429 else _WAIT
        if status == 401:
            responses[str(status)]["headers"] = {
                "WWW-Authenticate": {"description": "RFC 6750", "schema": {"type": "string"}}
            }
    if method == "get" and not path.startswith(_MOMENTARY):
        responses["304"] = {
            "description": "The client's copy, named in If-None-Match, is still right"
        }
    operation["responses"] = dict(sorted(responses.items()))


def _statuses(path: str, method: str, operation: dict[str, Any]) -> list[int]:
    if path == "/health/live":
        return [406]
    if path == "/health/ready":
        return [406, 503]
    found = [401, 403, 406, 503] + ([] if path == "/metrics" else [429])
    if operation.get("parameters") or "requestBody" in operation:
        found.append(422)
    if "{" in path and method in ("get", "delete"):
        found.append(404)
    if "requestBody" in operation:
        found += [408, 409, 413] if path.startswith("/v1/loads") else [408, 413, 415]
    return sorted(found)


def _add_links(name: str, success: dict[str, Any]) -> None:
    links = {
        f"{target}_of_{name}": {"operationId": target, "parameters": {parameter: expression}}
        for target, parameter, expression in _LINKS.get(name, ())
    }
    if links:
        success["links"] = links


def _add_request_examples(operation: dict[str, Any], given: tuple[Example, ...]) -> None:
    values = {**given[0].query, **given[0].path_values}
    for parameter in operation.get("parameters", ()):
        if parameter["name"] in values:
            parameter["example"] = values[parameter["name"]]
    for example in given:
        content = (
            operation.get("requestBody", {}).get("content", {}).get(example.content_type or "")
        )
        if content is not None and example.body is not None:
            text = example.body.decode()
            content["example"] = (
                json.loads(text) if example.content_type == "application/json" else text
            )


def _add_answer(success: dict[str, Any], kept: Any) -> None:
    content = success.get("content", {})
    if kept is None or not content:
        return
    first = next(iter(content))
    content[first]["example"] = kept


def document(app: FastAPI) -> str:
    """The contract as JSON text."""
    return json.dumps(app.openapi(), indent=1, ensure_ascii=False) + "\n"


def curl_examples(app: FastAPI) -> str:
    """A shell script that sends every example."""
    lines = [
        "#!/usr/bin/env bash",
        "# Every operation of the API, asked with curl. Made from "
        "service/api/examples/requests.toml by: python -m service.api.contract",
        "# REEDGATE_URL says where the service runs. What is commented out needs the demo data, "
        "a job or a token.",
        "set -euo pipefail",
        'REEDGATE_URL="${REEDGATE_URL:-http://127.0.0.1:8000}"',
    ]
    for path, method, operation in operations(app.openapi()):
        lines += ["", f"# {operation['summary']}"]
        for example in examples().get(operation["operationId"], ()):
            hidden = "# " if example.demo or example.upload or example.job else ""
            lines.append(f"{hidden}{example.curl(method.upper(), path)}")
            if not hidden:
                lines.append("echo")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    from service.api.app import create_app

    target, app = Path(sys.argv[1]), create_app(Path("unused.db"))
    target.write_text(document(app), encoding="utf-8")
    target.with_name("examples.sh").write_text(curl_examples(app), encoding="utf-8")
