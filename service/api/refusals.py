"""The answers that refuse a request, as the contract shows them."""

from service.api import problems
from service.api.problems import Problem

REFUSALS: dict[int, tuple[str, Problem]] = {
    401: ("A token is needed, or the one sent does not hold", problems.NO_TOKEN),
    403: ("The token does not reach so far", problems.WRONG_SCOPE),
    404: (
        "Nothing bears this id",
        Problem(
            type="urn:reedgate:problem:not-found",
            title="Not found",
            status=404,
            detail="No plant has the id 'nobody'.",
            next_step="Look it up by name: GET /v1/plants?q=",
        ),
    ),
    406: (
        "The answer comes in no type that was asked for",
        Problem(title="Not Acceptable", status=406, detail="The answer comes as application/json."),
    ),
    413: (
        "The request is over a limit",
        Problem(
            type="urn:reedgate:problem:too-large",
            title="The request is too large",
            status=413,
            detail="The body in bytes passes the limit of 20,000,000.",
            next_step="Send it in parts, or raise the limit.",
        ),
    ),
    415: (
        "The body is of a type that is not taken",
        Problem(
            title="Unsupported Media Type",
            status=415,
            detail="A body of type 'text/plain' is not taken; send application/json.",
        ),
    ),
    422: (
        "The request cannot be read; the pointer says where",
        Problem(
            type="urn:reedgate:problem:unknown-value",
            title="A value is not known",
            status=422,
            detail="Jurisdiction 'US-ZZ' is not known.",
            pointer="jurisdiction",
            next_step="Use one of: US, US-AL, US-AK.",
        ),
    ),
    429: ("The client asks more often than the service allows", problems.TOO_MANY),
    503: (
        "There is no store to answer from, the service is busy, or the time limit was passed",
        Problem(
            type="urn:reedgate:problem:store-missing",
            title="There is no store yet",
            status=503,
            detail="There is no store at reedgate.db.",
            next_step="Build one: reedgate load reference, or reedgate demo.",
        ),
    ),
}
"""By status: when it comes, and an example of it."""
