"""The answers that refuse a request, as the contract shows them."""

from service.api import problems
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
