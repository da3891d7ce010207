"""One polite client of the open occurrence search: identifies itself, waits when asked, gives up
with a clear word.

Facts of the interface: GBIF API, occurrence search (limit at most 300, offset + limit at most
    100,000, 429 or 503 when
overused, absent fields left out). The registry's dataset document (title, doi, license, citation)
is from memory.
"""

import random
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import httpx

from data_loaders.occurrences.datasets import DatasetText
from data_loaders.polite import Json, LiveError, Parameters, Patience, PoliteClient
from service.errors import BadRequest

MAX_PAGE = 300
MAX_OFFSET = 100_000


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

    @property
    def _polite(self) -> PoliteClient:
        settings = self.settings
        return PoliteClient(
            "the occurrence search",
            f"Reedgate occurrence loader (contact: {settings.contact})",
            self.client,
            Patience(
                settings.attempts,
                settings.backoff_s,
                settings.backoff_max_s,
                settings.retry_after_max_s,
                settings.request_s,
            ),
            self.sleep,
            decimals_as_text=True,
            jitter=self.jitter,
        )

    def page(self, parameters: Parameters, offset: int) -> Page:
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
            self.sleep(self._polite.backoff(attempt))
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

    def _get(self, path: str, parameters: Parameters) -> Json:
        return self._polite.get(self.settings.base_url + path, parameters)


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
