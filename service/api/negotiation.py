"""What a request sends and what it takes back: media types, content codings, body size."""

from collections.abc import Sequence
from functools import lru_cache

from fastapi import HTTPException, Request
from fastapi.routing import APIRoute

from service.errors import TooLarge


def sent_type(request: Request, known: Sequence[str]) -> str:
    """Media type of the body, without its parameters.

    Raises:
        HTTPException: 415 for any other; a body without a type counts as the first.
    """
    sent = request.headers.get("content-type", known[0]).split(";")[0].strip().lower()
    if sent not in known:
        raise HTTPException(
            415,
            f"A body of type {sent!r} is not read here; send {' or '.join(known)}.",
            {"Accept": ", ".join(known)},
        )
    return sent


def accepted(request: Request, offered: Sequence[str]) -> str:
    """The media type offered that the Accept header likes best (RFC 9110, 12.5.1).

    Raises:
        HTTPException: 406 where it takes none.
    """
    best = preferred(request.headers.get("accept", ""), tuple(offered))
    if best is None:
        raise HTTPException(406, f"The answer comes as {' or '.join(offered)}.")
    return best


@lru_cache(maxsize=1_000)
def preferred(header: str, offered: tuple[str, ...]) -> str | None:
    """The one offered that an Accept header likes best, the first of equals; None where it takes
    none.
    """
    ranges = [_range(part) for part in (header.strip() or "*/*").split(",") if part.strip()]
    scored = [(_quality(form, ranges), -index, form) for index, form in enumerate(offered)]
    quality, _, best = max(scored)
    return best if quality > 0 else None


@lru_cache(maxsize=1_000)
def takes_gzip(header: str) -> bool:
    """Whether an Accept-Encoding header takes gzip (RFC 9110, 12.5.3)."""
    qualities = dict(_range(part) for part in header.split(",") if part.strip())
    return qualities.get("gzip", qualities.get("x-gzip", qualities.get("*", 0.0))) > 0


def _range(text: str) -> tuple[str, float]:
    kind, *parameters = [part.strip().lower() for part in text.split(";")]
    quality = next((parameter[2:] for parameter in parameters if parameter.startswith("q=")), "1")
    try:
        return kind, float(quality)
    except ValueError:
        return kind, 0.0


def _quality(offered: str, ranges: Sequence[tuple[str, float]]) -> float:
    main = offered.split("/")[0]
    for pattern in (offered, f"{main}/*", "*/*"):
        for kind, quality in ranges:
            if kind == pattern:
                return quality
    return 0.0


def offered_types(route: APIRoute) -> tuple[str, ...]:
    """The media types that a route declares for its 200 answer."""
    declared: dict[str, None] = {}
    for responses in (route.responses, (route.openapi_extra or {}).get("responses", {})):
        for status in (200, "200"):
            declared |= dict.fromkeys(responses.get(status, {}).get("content", {}))
    own = getattr(route.response_class, "media_type", None) or getattr(
        getattr(route.response_class, "value", None), "media_type", None
    )
    return tuple(declared) or ((own,) if own else ())


async def body_of(request: Request, limit: int) -> bytes:
    """The body, read no further than the limit.

    Raises:
        TooLarge: it is longer.
    """
    pieces, size = [], 0
    async for piece in request.stream():
        size += len(piece)
        if size > limit:
            raise TooLarge("The body in bytes", limit)
        pieces.append(piece)
    return b"".join(pieces)
