"""Bodies as they come and answers as they go: how large, how fast, and how many at once.

A request takes a place among those at work only once its whole body is here, so that clients who
send slowly keep nobody else waiting. Those still sending have places of their own; when these are
all taken, the slowest sender gives way to the next.
"""

import asyncio
from asyncio import timeout
from dataclasses import dataclass, field
from time import monotonic

from starlette.requests import ClientDisconnect
from starlette.types import Message, Receive, Send

from service.api import problems
from service.api.problems import Refused
from service.errors import TooLarge
from service.settings import Settings
from service.store.deadline import WorkLimit

_GRACE_S = 0.1
"""A sender keeps its place for so long whatever its rate (common practice, no source)."""
_FITS_THE_BUFFER = 32_768
"""Bytes that the server takes at once without waiting for the client (asyncio's buffer holds 64
KiB).
"""
_LINE = 4
"""Requests that may wait for each turn of a large answer (common practice, no source)."""
_LOOK_EVERY_S = 0.05


def too_long(limit: int) -> TooLarge:
    """The error for a body over the limit."""
    return TooLarge("The body in bytes", limit)


@dataclass(slots=True, eq=False)
class Sender:
    """A client that is sending a body."""

    began: float = field(default_factory=monotonic)
    size: int = 0
    waiting: asyncio.Timeout | None = None
    displaced: bool = False

    def rate(self, now: float) -> float:
        """Bytes a second so far."""
        return self.size / max(now - self.began, 1e-3)

    def displace(self) -> None:
        """Give its place to another."""
        self.displaced = True
        if self.waiting is not None:
            self.waiting.reschedule(asyncio.get_running_loop().time())


class Places:
    """The requests of a worker: those at work, and those whose body is still coming.

    Args:
        most: of each kind.
        most_large: answers that hold much memory, at once.
    """

    def __init__(self, most: int, most_large: int = 1) -> None:
        self.most = most
        self.at_work = 0
        self._large_left = most_large
        self._line = _LINE * most_large
        self._senders: set[Sender] = set()

    @property
    def free(self) -> bool:
        """Whether one more request would be worked on."""
        return self.at_work < self.most

    async def take_turn(self, wait_s: float) -> bool:
        """A turn for an answer that holds much memory. False where none came free in time, or too
        many wait already.
        """
        if self._large_left or not self._line:
            return self._took_turn()
        self._line -= 1
        try:
            until = monotonic() + wait_s
            while not self._large_left and monotonic() < until:
                await asyncio.sleep(_LOOK_EVERY_S)
        finally:
            self._line += 1
        return self._took_turn()

    def _took_turn(self) -> bool:
        left = self._large_left > 0
        self._large_left -= left
        return left

    def end_turn(self) -> None:
        """Give a turn back."""
        self._large_left += 1

    def admit(self) -> Sender | None:
        """A place for a sender; None where every sender is new or fast enough to keep its own."""
        if len(self._senders) >= self.most:
            now = monotonic()
            slow = [sender for sender in self._senders if now - sender.began >= _GRACE_S]
            slowest = min(slow, key=lambda sender: sender.rate(now), default=None)
            if slowest is None:
                return None
            self._senders.discard(slowest)
            slowest.displace()
        sender = Sender()
        self._senders.add(sender)
        return sender

    def dismiss(self, sender: Sender) -> None:
        """The sender has sent all, or has gone."""
        self._senders.discard(sender)


class Exchange:
    """One request with its place, the body it may send and the answer it has to take."""

    def __init__(
        self, places: Places, config: Settings, limit: WorkLimit, *, loading: bool
    ) -> None:
        self._places = places
        self._pause_s = config.max_pause_seconds
        self._least_rate = config.least_bytes_per_second
        self._total_s = config.max_load_seconds if loading else config.max_body_seconds
        self._most = config.max_load_bytes if loading else config.max_body_bytes
        self._work = limit
        self._sender: Sender | None = None
        self._working = False
        self._has_turn = False
        self._sent = 0
        self._waited = 0.0

    def enter(self, *, with_body: bool) -> bool:
        """Take a place. False where none is free."""
        if with_body:
            self._sender = self._places.admit()
            return self._sender is not None
        return self._begin_work()

    def leave(self) -> None:
        """Give the place back."""
        if self._sender is not None:
            self._places.dismiss(self._sender)
        if self._working:
            self._places.at_work -= 1
        if self._has_turn:
            self._places.end_turn()

    async def take_turn(self) -> None:
        """Take a turn for an answer that holds much memory, to the end of the request; wait for
        one as long as for a slow client.

        Raises:
            Refused: none came free.
        """
        began = monotonic()
        self._has_turn = self._has_turn or await self._places.take_turn(self._pause_s)
        self._work.wait(monotonic() - began)
        if not self._has_turn:
            raise Refused(problems.BUSY, {"Retry-After": "5"})

    def _begin_work(self) -> bool:
        self._working = self._places.free
        self._places.at_work += self._working
        return self._working

    def receiving(self, receive: Receive) -> Receive:
        """The body as it comes: no longer, no slower and for no more time than the limits say."""
        whole = False

        async def bounded() -> Message:
            nonlocal whole
            if whole or self._sender is None:
                return await receive()
            message = await self._next(receive, self._sender)
            if message["type"] == "http.request":
                self._sender.size += len(message.get("body", b""))
                if self._sender.size > self._most:
                    problem = problems.problem_of(too_long(self._most))
                    raise Refused(problem, {"Connection": "close"})
                whole = not message.get("more_body", False)
                if whole:
                    self._all_here(self._sender)
            return message

        return bounded

    async def _next(self, receive: Receive, sender: Sender) -> Message:
        began = monotonic()
        until = sender.began + min(self._total_s, self._pause_s + sender.size / self._least_rate)
        try:
            async with timeout(min(self._pause_s, until - began)) as sender.waiting:
                if sender.displaced:
                    raise TimeoutError
                return await receive()
        except TimeoutError as error:
            problem = problems.BUSY if sender.displaced else problems.TOO_SLOW
            raise Refused(problem, {"Connection": "close"}) from error
        finally:
            sender.waiting = None
            self._work.wait(monotonic() - began)

    def _all_here(self, sender: Sender) -> None:
        self._places.dismiss(sender)
        self._sender = None
        if not self._begin_work():
            raise Refused(problems.BUSY, {"Retry-After": "1"})

    def sending(self, send: Send) -> Send:
        """Sends on. A client that takes its answer too slowly is disconnected, so that it does not
        keep its place for good.
        """

        async def patient(message: Message) -> None:
            size = len(message.get("body", b""))
            if size < _FITS_THE_BUFFER and not message.get("more_body", False):
                await send(message)
                return
            left = self._pause_s + self._sent / self._least_rate - self._waited
            began = monotonic()
            try:
                async with timeout(min(self._pause_s, left)):
                    await send(message)
            except TimeoutError as error:
                raise ClientDisconnect from error
            waited = monotonic() - began
            self._sent += size
            self._waited += waited
            self._work.wait(waited)

        return patient
