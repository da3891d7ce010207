"""What a request sends and what it takes back: media types and body size."""

from collections.abc import Sequence

from fastapi import HTTPException, Request

from service.errors import TooLarge


def sent_type(request: Request, known: Sequence[str]) -> str:
    """Media type of the body, without its parameters.

    Raises:
        HTTPException: 415 for any other; a body without a type counts as the first.
    """
    sent = request.headers.get("content-type", known[0]).split(";")[0].strip().lower()
    if sent not in known:
        raise HTTPException(415, f"A body of type {sent!r} is not taken; send {' or '.join(known)}.", {"Accept": ", ".join(known)})
    return sent


def accepted(request: Request, offered: Sequence[str]) -> str:
    """The media type offered that the Accept header likes best (RFC 9110, 12.5.1).

    Raises:
        HTTPException: 406 where it takes none.
    """
    header = request.headers.get("accept", "*/*")
    ranges = [_range(each) for each in header.split(",") if each.strip()]
    scored = [(_quality(each, ranges), -index, each) for index, each in enumerate(offered)]
    quality, _, best = max(scored)
    if quality <= 0:
        raise HTTPException(406, f"The answer comes as {' or '.join(offered)}.")
    return best


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
