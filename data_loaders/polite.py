"""One polite client of open services: says who asks, waits when asked, gives up with a clear word.

Open services answer 429 or 503 when they are overused, and ``Retry-After`` says for how long.
"""

import json
import random
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import cast

import httpx

from service.errors import BadRequest, ReedgateError

Json = dict[str, object]
Parameters = Mapping[str, str | Sequence[str]]
"""Of a query; a sequence is sent as several parameters of one name."""

_MAX_BODY_BYTES = 64 << 20
RETRIED = frozenset({408, 425, 429, 500, 502, 503, 504})


class LiveError(ReedgateError):
    """An open service did not answer.

    What was fetched is kept; the same request goes on from there.
    """

    title = "The open service did not answer"


@dataclass(frozen=True, slots=True)
class Patience:
    """How long and how often is asked.

    Attributes:
        attempts: of one request, the first included.
        request_s: for the whole of one response, however slowly it drips.
        retry_after_max_s: a longer wait than this is not sat through.
    """

    attempts: int = 6
    backoff_s: float = 1.0
    backoff_max_s: float = 60.0
    retry_after_max_s: float = 300.0
    request_s: float = 60.0

    def backoff(self, attempt: int, jitter: random.Random) -> float:
        """Doubling with every attempt, spread at random so that many clients do not come back
        together.
        """
        longest = min(self.backoff_max_s, self.backoff_s * 2**attempt)
        return jitter.uniform(longest / 2, longest)


def asked_wait(response: httpx.Response, wait_s: float, patience: Patience, name: str) -> float:
    """The wait that ``Retry-After`` asks for, in seconds or as a date, if it is longer than our
    own.

    Raises:
        LiveError: it is longer than is sat through.
    """
    asked = response.headers.get("Retry-After", "").strip()
    if asked.isdecimal():
        seconds = float(asked)
    else:
        try:
            moment = parsedate_to_datetime(asked)
        except ValueError:
            return wait_s
        moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        seconds = (moment - datetime.now(UTC)).total_seconds()
    if seconds > patience.retry_after_max_s:
        raise LiveError(
            f"{name} asks to wait {seconds:.0f} seconds.",
            next_step="Run the same command again after that; it goes on from where it stopped.",
        )
    return max(seconds, wait_s)


@dataclass
class PoliteClient:
    """Sends requests one after the other. ``sleep`` and ``jitter`` can be swapped in tests.

    Attributes:
        name: of the service, for messages.
        agent: sent as the user agent; names who asks.
    """

    name: str
    agent: str
    client: httpx.Client
    patience: Patience = Patience()
    sleep: Callable[[float], None] = time.sleep
    decimals_as_text: bool = False
    jitter: random.Random = field(default_factory=random.Random)

    def get(self, address: str, parameters: Parameters) -> Json:
        """A JSON object. With ``decimals_as_text``, decimal numbers stay as they are written, so
        that a coordinate is not rounded on its way.

        Raises:
            BadRequest: the service refuses the query.
            LiveError: it does not answer, or not sensibly.
        """
        problem = ""
        attempts = self.patience.attempts
        for attempt in range(attempts):
            wait_s = self.backoff(attempt)
            try:
                response, body = self._send(address, parameters)
            except (httpx.TransportError, httpx.DecodingError) as error:
                problem = f"the connection failed ({type(error).__name__})"
            else:
                if response.status_code == 200:
                    document = _parsed(body, decimals_as_text=self.decimals_as_text)
                    if document is not None:
                        return document
                    problem = "the answer was not a valid JSON object"
                elif response.status_code in RETRIED:
                    problem = f"it answered {response.status_code}"
                    wait_s = asked_wait(response, wait_s, self.patience, self.name)
                else:
                    raise self._refused(response.status_code, body)
            if attempt + 1 < attempts:
                self.sleep(wait_s)
        raise LiveError(
            f"After {attempts} attempts {problem} ({self.name}).",
            next_step="Run the same command again later; it goes on from where it stopped.",
        )

    def backoff(self, attempt: int) -> float:
        """How long to wait after an attempt."""
        return self.patience.backoff(attempt, self.jitter)

    def _send(self, address: str, parameters: Parameters) -> tuple[httpx.Response, bytes]:
        """A response with its whole body, read against the clock and against a bound on its
        size.
        """
        request_s = self.patience.request_s
        deadline = time.monotonic() + request_s
        body = bytearray()
        with self.client.stream(
            "GET",
            address,
            params={key: _plain(value) for key, value in parameters.items()},
            headers={"User-Agent": self.agent},
            timeout=httpx.Timeout(request_s, connect=min(10.0, request_s)),
        ) as response:
            for chunk in response.iter_bytes():
                body += chunk
                if time.monotonic() > deadline:
                    raise httpx.ReadTimeout("the body came too slowly")
                if len(body) > _MAX_BODY_BYTES:
                    raise httpx.DecodingError("the body is too large")
        return response, bytes(body)

    def _refused(self, status: int, body: bytes) -> ReedgateError:
        said = " ".join(body[:300].decode("utf-8", errors="replace").split())
        if status == 400:
            return BadRequest(
                f"{self.name} refuses the query: {said}",
                next_step="Mend the taxon, polygon, position or state.",
            )
        if status == 404:
            return BadRequest(f"{self.name} knows nothing at that address.")
        return LiveError(f"{self.name} answered {status}: {said}")


def _plain(value: str | Sequence[str]) -> str | list[str]:
    return value if isinstance(value, str) else list(value)


def _parsed(body: bytes, *, decimals_as_text: bool) -> Json | None:
    try:
        document = json.loads(body, parse_float=str if decimals_as_text else None)
    except ValueError:
        return None
    return cast(Json, document) if isinstance(document, dict) else None
