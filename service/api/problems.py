"""Errors as problem details (RFC 9457): one table from error to status, one place that writes
them.
"""

import sqlite3
from http import HTTPStatus
from typing import Annotated, Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from service.api.problem_kinds import KINDS, address_of
from service.errors import (
    BadFile,
    BadRequest,
    GivenUp,
    Mistakes,
    NotFound,
    ReedgateError,
    StoreDamaged,
    StoreError,
    StoreMissing,
    StoreOutdated,
    TookTooLong,
    TooLarge,
    UnknownValue,
)
from service.logs import FAILURES
from service.store.deadline import check as check_deadline

MEDIA_TYPE = "application/problem+json"

_NAME_OF: dict[type[ReedgateError], str] = {
    TooLarge: "too-large",
    UnknownValue: "unknown-value",
    BadRequest: "bad-request",
    BadFile: "bad-file",
    NotFound: "not-found",
    TookTooLong: "took-too-long",
    GivenUp: "given-up",
    StoreMissing: "store-missing",
    StoreOutdated: "store-outdated",
    StoreDamaged: "store-damaged",
    StoreError: "store-error",
}
"""The kind of problem of the first class that an error is an instance of, in this order."""

STATUS: dict[type[ReedgateError], int] = {
    kind: KINDS[name].status for kind, name in _NAME_OF.items()
}


class Problem(BaseModel):
    """A problem detail (RFC 9457)."""

    type: Annotated[
        str,
        Field(
            description="address, relative to the service, of a page about this kind of problem",
            examples=["/problems/unknown-value"],
        ),
    ]
    title: str
    status: int = Field(ge=100, le=599)
    detail: str = ""
    pointer: str | None = Field(
        None,
        description="JSON pointer (RFC 6901) to the bad part of the body, or the name of the "
        "parameter",
    )
    next_step: str | None = Field(None, description="what to do about it")
    errors: list["ProblemPart"] | None = Field(
        None, description="every bad part, where there are several"
    )


class ProblemPart(BaseModel):
    """One bad part of a request."""

    pointer: str
    detail: str


class Refused(HTTPException):
    """A refusal while a body is read: FastAPI lets this class alone through there."""

    def __init__(self, problem: Problem, headers: dict[str, str] | None = None) -> None:
        super().__init__(problem.status, problem.detail, headers)
        self.problem = problem


def problem(name: str, detail: str = "", next_step: str | None = None) -> Problem:
    """A problem of a kind, with the kind's own words where none are given."""
    kind = KINDS[name]
    return Problem(
        type=address_of(name),
        title=kind.title,
        status=kind.status,
        detail=detail or kind.meaning,
        next_step=next_step or kind.next_step or None,
    )


UNFORESEEN = problem("unforeseen")
TOO_MANY = problem("too-many-requests")
BUSY = problem("busy")
TOO_SLOW = problem("too-slow")
NO_TOKEN = problem("no-token")
BAD_TOKEN = problem("bad-token")
WRONG_SCOPE = problem("wrong-scope")
LOADS_OFF = problem("loads-off")
LOAD_UNDER_WAY = problem("load-under-way")
STORE_PUBLISHED = problem("store-published")


def problem_of(error: ReedgateError) -> Problem:
    """The problem detail for an error of our own."""
    name = next((name for kind, name in _NAME_OF.items() if isinstance(error, kind)), "unforeseen")
    parts = error.parts if isinstance(error, Mistakes) else ()
    return Problem(
        type=address_of(name),
        title=error.title,
        status=KINDS[name].status,
        detail=error.detail,
        pointer=error.pointer if isinstance(error, BadRequest) else None,
        next_step=error.next_step or None,
        errors=[ProblemPart(pointer=part.pointer, detail=str(part)) for part in parts] or None,
    )


def response_of(problem: Problem, headers: dict[str, str] | None = None) -> JSONResponse:
    """The HTTP response for a problem."""
    return JSONResponse(
        problem.model_dump(exclude_none=True), problem.status, headers, media_type=MEDIA_TYPE
    )


def install(app: FastAPI) -> None:
    """Have every error of the app answered as a problem detail."""

    @app.exception_handler(ReedgateError)
    async def _from_error(_: Request, error: ReedgateError) -> JSONResponse:
        return _response_to(error)

    @app.exception_handler(sqlite3.DatabaseError)
    async def _from_database(_: Request, error: sqlite3.DatabaseError) -> JSONResponse:
        try:
            check_deadline()
        except ReedgateError as stopped:
            return _response_to(stopped)
        FAILURES.exception("the store cannot be read", exc_info=error)
        return _response_to(
            StoreDamaged(
                "The store could not be read to the end.", next_step="The operator's log says why."
            )
        )

    @app.exception_handler(RequestValidationError)
    async def _from_validation(_: Request, error: RequestValidationError) -> JSONResponse:
        return _response_to(
            Mistakes(
                [BadRequest(_message(part), pointer=_pointer(part)) for part in error.errors()]
            )
        )

    @app.exception_handler(HTTPException)
    async def _from_framework(request: Request, error: HTTPException) -> JSONResponse:
        headers = dict(error.headers or {})
        if isinstance(error, Refused):
            return response_of(error.problem, headers)
        name = _BY_STATUS.get(error.status_code, "unforeseen")
        if name == "method-not-allowed":
            # The framework names the methods of one route alone, where several share the path.
            headers["Allow"] = _methods_of(app, request) or headers.get("allow", "")
        own_words = str(error.detail) != _phrase(error.status_code)
        return response_of(problem(name, str(error.detail) if own_words else ""), headers)


_BY_STATUS = {
    # The framework says 400 of a body that it cannot take, such as JSON nested too deep; all such
    # are 422 here.
    400: "bad-request",
    404: "no-such-address",
    405: "method-not-allowed",
    406: "not-acceptable",
    413: "too-large",
    415: "unsupported-media-type",
}


def _response_to(error: ReedgateError) -> JSONResponse:
    may_help = isinstance(error, StoreError | TookTooLong)
    return response_of(problem_of(error), {"Retry-After": "5"} if may_help else None)


def _phrase(status: int) -> str:
    try:
        return HTTPStatus(status).phrase
    except ValueError:
        return ""


def _methods_of(app: FastAPI, request: Request) -> str:
    item = app.openapi()["paths"].get(app.state.routes.of(request.url.path), {})
    methods = [method.upper() for method in item]
    return ", ".join([*methods, "HEAD"] if "GET" in methods else methods)


def _pointer(error: dict[str, Any]) -> str:
    place, *steps = [str(step).replace("~", "~0").replace("/", "~1") for step in error["loc"]]
    return "/".join(["", *steps]) if place == "body" else "/".join(steps) or place


def _message(error: dict[str, Any]) -> str:
    return str(error["msg"]).removeprefix("Value error, ")
