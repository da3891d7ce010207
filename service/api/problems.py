"""Errors as problem details (RFC 9457): one table from error to status, one place that writes them."""

from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from service.errors import BadFile, BadRequest, NotFound, ReedgateError, StoreError, TooLarge, UnknownValue

MEDIA_TYPE = "application/problem+json"

STATUS: dict[type[ReedgateError], int] = {
    TooLarge: HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
    UnknownValue: HTTPStatus.UNPROCESSABLE_ENTITY,
    BadRequest: HTTPStatus.UNPROCESSABLE_ENTITY,
    BadFile: HTTPStatus.UNPROCESSABLE_ENTITY,
    NotFound: HTTPStatus.NOT_FOUND,
    StoreError: HTTPStatus.SERVICE_UNAVAILABLE,
}
"""The first class that an error is an instance of, in this order."""


class Problem(BaseModel):
    """A problem detail (RFC 9457)."""

    type: str = Field("about:blank", description="URI reference of the kind of problem")
    title: str
    status: int = Field(ge=100, le=599)
    detail: str = ""
    pointer: str | None = Field(None, description="JSON pointer (RFC 6901) to the bad part of the request, or the name of the parameter")
    next_step: str | None = Field(None, description="what to do about it")
    errors: list["ProblemPart"] | None = Field(None, description="every bad part, where there are several")


class ProblemPart(BaseModel):
    """One bad part of a request."""

    pointer: str
    detail: str


def problem_of(error: ReedgateError) -> Problem:
    """The problem detail for an error of our own."""
    status = next((status for kind, status in STATUS.items() if isinstance(error, kind)), HTTPStatus.INTERNAL_SERVER_ERROR)
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
    return JSONResponse(problem.model_dump(exclude_none=True), problem.status, headers, media_type=MEDIA_TYPE)


def install(app: FastAPI) -> None:
    """Have every error of the app answered as a problem detail."""

    @app.exception_handler(ReedgateError)
    async def _ours(_: Request, error: ReedgateError) -> JSONResponse:
        return response_of(problem_of(error), {"Retry-After": "5"} if isinstance(error, StoreError) else None)

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
    async def _http(_: Request, error: HTTPException) -> JSONResponse:
        title = HTTPStatus(error.status_code).phrase
        return response_of(Problem(title=title, status=error.status_code, detail=str(error.detail)), dict(error.headers or {}))

    @app.exception_handler(Exception)
    async def _unforeseen(_: Request, __: Exception) -> JSONResponse:
        # No path or stack trace leaves the service; the log has them.
        status = HTTPStatus.INTERNAL_SERVER_ERROR
        return response_of(Problem(title=status.phrase, status=int(status), detail="The service failed; the operator's log says why."))


def _pointer(error: dict[str, Any]) -> str:
    place, *steps = [str(step).replace("~", "~0").replace("/", "~1") for step in error["loc"]]
    return "/".join(["", *steps]) if place == "body" else "/".join(steps) or place


def _told(error: dict[str, Any]) -> str:
    return str(error["msg"]).removeprefix("Value error, ")


def _kebab(name: str) -> str:
    return "".join(f"-{letter.lower()}" if letter.isupper() else letter for letter in name).lstrip("-")
