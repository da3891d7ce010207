"""The kinds of problem that the service answers with, each at an address of its own."""

from dataclasses import dataclass

ADDRESS = "/problems/"


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem (RFC 9457, 3.1.1).

    Attributes:
        meaning: what it says of the request.
        next_step: what whoever asked can do; empty where each problem says its own.
    """

    status: int
    title: str
    meaning: str
    next_step: str = ""


KINDS: dict[str, Kind] = {
    "bad-request": Kind(
        422,
        "The request cannot be read",
        "A parameter or a part of the body is missing, unknown, repeated or of a wrong form. "
        "The pointer says which.",
        "Correct the part that the pointer names.",
    ),
    "unknown-value": Kind(
        422,
        "A value is not known",
        "A value is outside its vocabulary, such as a state that does not exist.",
        "Use one of the values that the problem names.",
    ),
    "bad-file": Kind(
        422,
        "A file cannot be used",
        "The file that was sent, or a place in it, cannot be used. Nothing was changed.",
    ),
    "too-large": Kind(
        413,
        "The request is too large",
        "The body, or what it asks for, is over a limit of this service.",
        "Send it in parts, or have the operator raise the limit.",
    ),
    "too-slow": Kind(
        408,
        "The body came too slowly",
        "The body was not here in the time that the service gives it.",
        "Send it again over a better connection, or in parts.",
    ),
    "not-found": Kind(404, "Not found", "Nothing in the store has this id.", "Look it up by name."),
    "no-such-address": Kind(
        404,
        "There is no such address",
        "The service answers nothing at this path.",
        "See GET /openapi.json for the paths.",
    ),
    "method-not-allowed": Kind(
        405,
        "The method is not allowed here",
        "The path is right, and the method is not one of its own. Allow names those.",
        "Use a method that the Allow header names.",
    ),
    "not-acceptable": Kind(
        406,
        "No such form of the answer",
        "The answer comes in no media type that Accept names.",
        "Ask for a media type that the problem names.",
    ),
    "unsupported-media-type": Kind(
        415,
        "The body is of a wrong type",
        "The body has a media type that is not read here.",
        "Send a media type that the problem names.",
    ),
    "malformed": Kind(
        400,
        "This is not HTTP",
        "The request does not keep to HTTP (RFC 9112), so where it ends cannot be told.",
        "Use an ordinary HTTP client.",
    ),
    "one-host": Kind(
        400,
        "One Host is needed",
        "A request names its host once (RFC 9112, 3.2).",
        "Send one Host header.",
    ),
    "head-too-large": Kind(
        431,
        "The head of the request is too large",
        "The address and the headers together, or their number, are over a limit.",
        "Put long values into the body.",
    ),
    "no-token": Kind(
        401,
        "A token is needed",
        "No token was sent.",
        "Send one as Authorization: Bearer; the operator makes it.",
    ),
    "bad-token": Kind(
        401,
        "The token is not valid",
        "The token is unknown, has run out, or was taken back.",
        "Ask the operator for another.",
    ),
    "wrong-scope": Kind(
        403,
        "The token does not allow this",
        "The token lacks the scope for this.",
        "Ask the operator for another.",
    ),
    "loads-off": Kind(
        403,
        "Loading over HTTP is off",
        "No token has the scope load, so nothing that changes the store is open.",
        "Load on the command line, or have the operator make one: "
        "reedgate tokens add NAME --scope load.",
    ),
    "too-many-requests": Kind(
        429,
        "Too many requests",
        "This client asks more often than the service allows.",
        "Wait as long as Retry-After says; ask many labels in one stock check.",
    ),
    "busy": Kind(
        503,
        "The service is busy",
        "As many requests as the service takes at once are under way.",
        "Ask again as soon as Retry-After says.",
    ),
    "store-published": Kind(
        409,
        "The store is published elsewhere",
        "This service reads builds that are published to an address, and writes none.",
        "Load where the store is built, then publish it there: reedgate publish URL.",
    ),
    "load-under-way": Kind(
        503,
        "A load is under way",
        "One load is taken at a time.",
        "Send it again when that one is done.",
    ),
    "took-too-long": Kind(
        503,
        "The answer took too long",
        "The work passed the time limit of one request.",
        "Ask for less at once: fewer rows, places or sites, a smaller radius.",
    ),
    "given-up": Kind(
        503,
        "The request was cancelled",
        "The client went away, so the work for it was stopped.",
        "Ask again.",
    ),
    "store-missing": Kind(
        503,
        "There is no store yet",
        "No store is at the path that the service was given.",
        "Build one: reedgate load reference, or reedgate demo.",
    ),
    "store-outdated": Kind(
        503,
        "The store was built by another version",
        "The store has another schema than this version reads.",
        "Rebuild with: reedgate load reference.",
    ),
    "store-damaged": Kind(
        503,
        "The store is damaged",
        "The store fails its integrity check.",
        "Put back a copy of it, or rebuild with: reedgate load reference.",
    ),
    "store-error": Kind(
        503,
        "The store cannot answer",
        "The store, or a file beside it, cannot be used now.",
        "The operator's log says why.",
    ),
    "unforeseen": Kind(
        500,
        "The service failed",
        "Something failed that nobody foresaw; the operator's log says why.",
        "Tell the operator the request id.",
    ),
}
"""By name, which is the last part of the address."""


def address_of(name: str) -> str:
    """The address of a kind, relative to the service.

    >>> address_of("busy")
    '/problems/busy'
    """
    return f"{ADDRESS}{name}"
