"""Errors as problem details (RFC 9457): one table from error to status, one place that writes
them.
"""

import sqlite3
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from service.api.logs import FAILURES
from service.errors import (
    BadFile,
    BadRequest,
    NotFound,
    ReedgateError,
    StoreDamaged,
    StoreError,
    TookTooLong,
    TooLarge,
    UnknownValue,
)
from service.store.deadline import check as check_deadline

MEDIA_TYPE = "application/problem+json"

STATUS: dict[type[ReedgateError], int] = {
    TooLarge: HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
    UnknownValue: HTTPStatus.UNPROCESSABLE_ENTITY,
    BadRequest: HTTPStatus.UNPROCESSABLE_ENTITY,
    BadFile: HTTPStatus.UNPROCESSABLE_ENTITY,
    NotFound: HTTPStatus.NOT_FOUND,
    TookTooLong: HTTPStatus.SERVICE_UNAVAILABLE,
    StoreError: HTTPStatus.SERVICE_UNAVAILABLE,
}
"""The first class that an error is an instance of, in this order."""


class Problem(BaseModel):
    """A problem detail (RFC 9457)."""

    type: str = Field("about:blank", description="URI reference of the kind of problem")
    title: str
    status: int = Field(ge=100, le=599)
    detail: str = ""
    pointer: str | None = Field(
        None,
        description="JSON pointer (RFC 6901) to the bad part of the request, or the name of the parameter",
    )
    next_step: str | None = Field(None, description="what to do about it")
    errors: list["ProblemPart"] | None = Field(
        None, description="every bad part, where there are several"
    )


class ProblemPart(BaseModel):
    """One bad part of a request."""

    pointer: str
    detail: str


def _problem(
    kind: str, title: str, status: HTTPStatus, detail: str, next_step: str | None = None
) -> Problem:
    return Problem(
        type=f"urn:reedgate:problem:{kind}",
        title=title,
        status=int(status),
        detail=detail,
        next_step=next_step,
    )


UNFORESEEN = _problem(
    "unforeseen",
    "Internal Server Error",
    HTTPStatus.INTERNAL_SERVER_ERROR,
    "The service failed; the operator's log says why.",
)
TOO_MANY = _problem(
    "too-many-requests",
    "Too many requests",
    HTTPStatus.TOO_MANY_REQUESTS,
    "This client asks more often than the service allows.",
    "Wait as long as Retry-After says; ask many labels in one stock check.",
)
BUSY = _problem(
    "busy",
    "The service is busy",
    HTTPStatus.SERVICE_UNAVAILABLE,
    "As many requests as the service takes at once are under way.",
    "Ask again as soon as Retry-After says.",
)
NO_TOKEN = _problem(
    "no-token",
    "A token is needed",
    HTTPStatus.UNAUTHORIZED,
    "No token was sent.",
    "Send one as Authorization: Bearer; the operator makes it.",
)
BAD_TOKEN = _problem(
    "bad-token",
    "The token does not hold",
    HTTPStatus.UNAUTHORIZED,
    "The token is unknown, has run out, or was taken back.",
    "Ask the operator for another.",
)
WRONG_SCOPE = _problem(
    "wrong-scope",
    "The token does not reach so far",
    HTTPStatus.FORBIDDEN,
    "The token lacks the scope for this.",
    "Ask the operator for another.",
)
LOADS_OFF = _problem(
    "loads-off",
    "Loading over HTTP is off",
    HTTPStatus.FORBIDDEN,
    "No token has the scope load, so nothing that changes the store is open.",
    "Load on the command line, or have the operator make one: reedgate tokens add NAME --scope load.",
)
LOAD_UNDER_WAY = _problem(
    "load-under-way",
    "A load is under way",
    HTTPStatus.SERVICE_UNAVAILABLE,
    "One load is taken at a time.",
    "Send it again when that one is done.",
)


def problem_of(error: ReedgateError) -> Problem:
    """The problem detail for an error of our own."""
    status = next(
        (status for kind, status in STATUS.items() if isinstance(error, kind)),
        HTTPStatus.INTERNAL_SERVER_ERROR,
    )
    return Problem(
        type=f"urn:reedgate:problem:{_kebab(type(error).__name__)}",
        title=error.title,
        status=int(status),
        detail=error.detail,
        pointer=error.pointer if isinstance(error, BadRequest) else None,
        next_step=error.next_step or None,
    )


def response_of(problem: Problem, headers: dict[str, str] | None = None) -> JSONResponse:
    """The HTTP response for a problem."""
    return JSONResponse(
        problem.model_dump(exclude_none=True), problem.status, headers, media_type=MEDIA_TYPE
    )


def install(app: FastAPI) -> None:
    """Have every error of the app answered as a problem detail."""

    @app.exception_handler(ReedgateError)
    async def _ours(_: Request, error: ReedgateError) -> JSONResponse:
        return response_of(
            problem_of(error),
            {"Retry-After": "5"} if isinstance(error, StoreError | TookTooLong) else None,
        )

    @app.exception_handler(sqlite3.DatabaseError)
    async def _store(_: Request, error: sqlite3.DatabaseError) -> JSONResponse:
        try:
            check_deadline()
        except TookTooLong as late:
            return response_of(problem_of(late), {"Retry-After": "5"})
        FAILURES.exception("the store cannot be read", exc_info=error)
        damaged = StoreDamaged(
            "The store could not be read to the end.", next_step="The operator's log says why."
        )
        return response_of(problem_of(damaged), {"Retry-After": "5"})

    @app.exception_handler(RequestValidationError)
    async def _invalid(_: Request, error: RequestValidationError) -> JSONResponse:
        parts = [ProblemPart(pointer=_pointer(each), detail=_told(each)) for each in error.errors()]
        return response_of(
            Problem(
                type="urn:reedgate:problem:invalid-request",
                title="The request cannot be read",
                status=int(HTTPStatus.UNPROCESSABLE_ENTITY),
                detail=f"{parts[0].pointer}: {parts[0].detail}",
                pointer=parts[0].pointer,
                errors=parts,
            )
        )

    @app.exception_handler(HTTPException)
    async def _http(request: Request, error: HTTPException) -> JSONResponse:
        # The framework says 400 of a body that is no JSON it can take, such as one nested too deep;
        # all such are 422 here.
        status = (
            HTTPStatus.UNPROCESSABLE_ENTITY
            if error.status_code == HTTPStatus.BAD_REQUEST
            else HTTPStatus(error.status_code)
        )
        if status == HTTPStatus.REQUEST_ENTITY_TOO_LARGE:
            kind = "urn:reedgate:problem:too-large"
        else:
            kind = "about:blank"
        problem = Problem(
            type=kind, title=status.phrase, status=int(status), detail=str(error.detail)
        )
        headers = dict(error.headers or {})
        if status == HTTPStatus.METHOD_NOT_ALLOWED:
            # The framework names the methods of one route alone, where several share the path.
            headers["Allow"] = _methods_of(app, request) or headers.get("allow", "")
        return response_of(problem, headers)


def _methods_of(app: FastAPI, request: Request) -> str:
    item = app.openapi()["paths"].get(app.state.routes.of(request.url.path), {})
    methods = [method.upper() for method in item]
    return ", ".join([*methods, "HEAD"] if "GET" in methods else methods)


def _pointer(error: dict[str, Any]) -> str:
    place, *steps = [str(step).replace("~", "~0").replace("/", "~1") for step in error["loc"]]
    return "/".join(["", *steps]) if place == "body" else "/".join(steps) or place


def _told(error: dict[str, Any]) -> str:
    return str(error["msg"]).removeprefix("Value error, ")


def _kebab(name: str) -> str:
    return "".join(f"-{letter.lower()}" if letter.isupper() else letter for letter in name).lstrip(
        "-"
    )
