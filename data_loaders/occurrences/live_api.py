"""One polite client of the open occurrence search: identifies itself, waits when asked, gives up
with a clear word.

Facts of the interface: GBIF API, occurrence search (limit at most 300, offset + limit at most
    100,000, 429 or 503 when
overused, absent fields left out). The registry's dataset document (title, doi, license, citation)
is from memory.
"""

import json
import random
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import cast

import httpx

from data_loaders.occurrences.datasets import DatasetText
from service.errors import BadRequest, ReedgateError

MAX_PAGE = 300
MAX_OFFSET = 100_000
_MAX_BODY_BYTES = 64 << 20
_RETRIED = frozenset({408, 425, 429, 500, 502, 503, 504})

Json = dict[str, object]


class LiveError(ReedgateError):
    """The live interface did not answer.

    What was fetched is kept; the same request goes on from there.
    """

    title = "The live occurrence interface did not answer"


@dataclass(frozen=True, slots=True)
class LiveSettings:
    """How the interface is used.

    Attributes:
        contact: an e-mail or web address of whoever asks, sent with every request.
        concurrency: requests under way at once; the interface asks for one.
        attempts: of one request, the first included.
        request_s: for the whole of one response, however slowly it drips.
        retry_after_max_s: a longer wait than this is not sat through.
        max_records: of one query; more belong into a download.
    """

    contact: str
    base_url: str = "https://api.gbif.org/v1"
    page_size: int = MAX_PAGE
    concurrency: int = 1
    attempts: int = 6
    backoff_s: float = 1.0
    backoff_max_s: float = 60.0
    retry_after_max_s: float = 300.0
    request_s: float = 60.0
    max_records: int = MAX_OFFSET

    def __post_init__(self) -> None:
        if not re.fullmatch(r"\S+@\S+\.\S+|https?://\S+", self.contact):
            raise BadRequest(
                "The live interface is asked only by people who say who they are.",
                next_step="Give an e-mail or web address as contact.",
            )
        if not 1 <= self.page_size <= MAX_PAGE:
            raise BadRequest(f"A page holds 1 to {MAX_PAGE} records.")
        if not 1 <= self.concurrency <= 4:
            raise BadRequest("One to four requests may be under way at once.")


@dataclass(frozen=True, slots=True)
class Page:
    """One page of results. ``total`` is what the interface says matches in all."""

    offset: int
    total: int
    end: bool
    records: tuple[Mapping[str, str], ...]


@dataclass
class LiveApi:
    """Sends requests one after the other. ``sleep`` and ``jitter`` can be swapped in tests."""

    settings: LiveSettings
    client: httpx.Client
    sleep: Callable[[float], None] = time.sleep
    jitter: random.Random = field(default_factory=random.Random)

    def page(self, parameters: Mapping[str, str], offset: int) -> Page:
        """One page of a query; a page that is cut short is asked for again, and in the end taken as
        it is.

        Raises:
            BadRequest: the interface refuses the query.
            LiveError: it does not answer, or not sensibly.
        """
        limit = min(self.settings.page_size, MAX_OFFSET - offset)
        query = {**parameters, "limit": str(limit), "offset": str(offset)}
        page: Page | None = None
        for attempt in range(2):
            page = _page(self._get("/occurrence/search", query), offset)
            if page.end or len(page.records) >= min(limit, page.total - offset):
                return page
            self.sleep(self._backoff(attempt))
        assert page is not None
        if not page.records:
            raise LiveError(
                f"The interface gave an empty page at record {offset:,} of {page.total:,}.",
                next_step="Run the same load again later; it goes on from here.",
            )
        return page

    def dataset(self, key: str) -> DatasetText:
        """Title and citation of a data set; empty when the interface has none to give."""
        try:
            document = self._get(f"/dataset/{key}", {})
        except BadRequest:
            return DatasetText()
        citation = document.get("citation")
        doi = _text(document.get("doi"))
        return DatasetText(
            title=_text(document.get("title")),
            citation=_text(citation.get("text")) if isinstance(citation, dict) else "",
            licence=_text(document.get("license")),
            identifier=key,
            url=f"https://doi.org/{doi}" if doi else "",
        )

    def _get(self, path: str, parameters: Mapping[str, str]) -> Json:
        problem = ""
        for attempt in range(self.settings.attempts):
            wait_s = self._backoff(attempt)
            try:
                response, body = self._send(path, parameters)
            except (httpx.TransportError, httpx.DecodingError) as error:
                problem = f"the connection failed ({type(error).__name__})"
            else:
                if response.status_code == 200:
                    document = _parsed(body)
                    if document is not None:
                        return document
                    problem = "the answer was no valid JSON object"
                elif response.status_code in _RETRIED:
                    problem = f"it answered {response.status_code}"
                    wait_s = self._asked_wait(response, wait_s)
                else:
                    raise _refused(response.status_code, body)
            if attempt + 1 < self.settings.attempts:
                self.sleep(wait_s)
        raise LiveError(
            f"After {self.settings.attempts} attempts {problem}.",
            next_step="Run the same load again later; it goes on from where it stopped.",
        )

    def _send(self, path: str, parameters: Mapping[str, str]) -> tuple[httpx.Response, bytes]:
        """A response with its whole body, read against the clock and against a bound on its
        size.
        """
        headers = {"User-Agent": f"Reedgate occurrence loader (contact: {self.settings.contact})"}
        deadline = time.monotonic() + self.settings.request_s
        body = bytearray()
        with self.client.stream(
            "GET",
            self.settings.base_url + path,
            params=dict(parameters),
            headers=headers,
            timeout=httpx.Timeout(
                self.settings.request_s, connect=min(10.0, self.settings.request_s)
            ),
        ) as response:
            for chunk in response.iter_bytes():
                body += chunk
                if time.monotonic() > deadline:
                    raise httpx.ReadTimeout("the body came too slowly")
                if len(body) > _MAX_BODY_BYTES:
                    raise httpx.DecodingError("the body is too large")
        return response, bytes(body)

    def _backoff(self, attempt: int) -> float:
        """Doubling with every attempt, spread at random so that many clients do not come back
        together.
        """
        longest = min(self.settings.backoff_max_s, self.settings.backoff_s * 2**attempt)
        return self.jitter.uniform(longest / 2, longest)

    def _asked_wait(self, response: httpx.Response, wait_s: float) -> float:
        """The wait that ``Retry-After`` asks for, in seconds or as a date, if it is longer than
        our own.
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
        if seconds > self.settings.retry_after_max_s:
            raise LiveError(
                f"The interface asks to wait {seconds:.0f} seconds.",
                next_step="Run the same load again after that; it goes on from where it stopped.",
            )
        return max(seconds, wait_s)


def _page(document: Json, offset: int) -> Page:
    total, end, results = (
        document.get("count"),
        document.get("endOfRecords"),
        document.get("results"),
    )
    if not isinstance(total, int) or not isinstance(end, bool) or not isinstance(results, list):
        raise LiveError(
            "The interface's answer is not a page of records.",
            next_step="Try later; if it stays, tell us.",
        )
    records = tuple(_flat(record) for record in results if isinstance(record, dict))
    return Page(offset, total, end, records)


def _flat(record: Json) -> dict[str, str]:
    """A record's plain values as text, lists joined as in a download, a vocabulary concept by
    its name.
    """
    flat: dict[str, str] = {}
    for name, value in record.items():
        if isinstance(value, dict):
            value = value.get("concept")
        text = ";".join(_text(part) for part in value) if isinstance(value, list) else _text(value)
        if text:
            flat[name] = text
    return flat


def _text(value: object) -> str:
    return str(value) if isinstance(value, str | int) and not isinstance(value, bool) else ""


def _parsed(body: bytes) -> Json | None:
    try:
        # Decimal numbers stay as they are written, so that a coordinate is not rounded on its way.
        document = json.loads(body, parse_float=str)
    except ValueError:
        return None
    return cast(Json, document) if isinstance(document, dict) else None


def _refused(status: int, body: bytes) -> ReedgateError:
    said = " ".join(body[:300].decode("utf-8", errors="replace").split())
    if status == 400:
        return BadRequest(
            f"The interface refuses the query: {said}",
            next_step="Mend the taxon, polygon or state.",
        )
    if status == 404:
        return BadRequest("The interface knows nothing at that address.")
    return LiveError(f"The interface answered {status}: {said}")
