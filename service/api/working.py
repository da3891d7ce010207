"""Work that takes a while: in a thread of its own, and only as long as the client waits."""

import asyncio
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import TypeVar

from fastapi import Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import StreamingResponse
from starlette.requests import ClientDisconnect

from service.errors import GivenUp
from service.store.deadline import WorkLimit, current_limit

_T = TypeVar("_T")

_PIECE = 262_144
"""Bytes handed to the server at once."""
_HELD_BACK = 1_000_000
"""Bytes of an answer that are worked out before its first is sent, so that what goes wrong early
is told as a problem; most answers are whole by then."""


async def in_thread(request: Request, work: Callable[[], _T]) -> _T:
    """Do the work in a thread; stop it when the client goes away.

    The body must have been read before.

    Raises:
        ClientDisconnect: the client went away.
    """
    limit = current_limit()
    if limit is None:
        return await run_in_threadpool(work)
    watch = asyncio.ensure_future(_gone(request, limit))
    try:
        return await run_in_threadpool(work)
    except GivenUp as error:
        raise ClientDisconnect from error
    finally:
        watch.cancel()
        with suppress(asyncio.CancelledError):
            await watch


async def _gone(request: Request, limit: WorkLimit) -> None:
    while (await request.receive())["type"] != "http.disconnect":
        pass
    limit.give_up()


async def streamed(
    request: Request,
    pieces: Iterator[bytes],
    media_type: str,
    headers: dict[str, str] | None = None,
) -> Response:
    """An answer that is written while it is worked out, so that its length costs no memory.

    An answer that turns out short is sent whole, with its length.

    Raises:
        ReedgateError: what the pieces raise while the first of them are held back; later, the
            connection is cut, so that nobody takes a part for the whole.
    """
    joined = _joined(pieces)
    first, whole = await in_thread(request, lambda: _held_back(joined))
    if whole:
        return Response(b"".join(first), media_type=media_type, headers=headers)

    def rest() -> Iterator[bytes]:
        while first:
            yield first.pop(0)
        yield from joined

    return StreamingResponse(rest(), media_type=media_type, headers=headers)


def _joined(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """Small pieces put together to some hundred kilobytes."""
    waiting: list[bytes] = []
    size = 0
    for piece in pieces:
        waiting.append(piece)
        size += len(piece)
        if size >= _PIECE:
            yield b"".join(waiting)
            waiting.clear()
            size = 0
    yield b"".join(waiting)


def _held_back(pieces: Iterator[bytes]) -> tuple[list[bytes], bool]:
    first: list[bytes] = []
    size = 0
    for piece in pieces:
        first.append(piece)
        size += len(piece)
        if size >= _HELD_BACK:
            return first, False
    return first, True
