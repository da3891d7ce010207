"""One polite reader of official pages: one host at a time, with pauses, within limits.

``robots.txt`` is kept to (RFC 9309), a page that has not changed is not sent again (RFC 9110
conditional requests), and each redirect is checked as the first address was.
"""

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from email.utils import parsedate_to_datetime
from importlib.metadata import version
from urllib.parse import urljoin, urlsplit

import httpx
from protego import Protego

from data_loaders.regulations.reading.addresses import (
    AddressRefused,
    Resolve,
    Site,
    public_addresses,
    site_of,
)
from service.errors import ReedgateError

AGENT = "Reedgate"
_USER_AGENT = f"{AGENT}/{version('reedgate')} (list reader; keeps to robots.txt)"
_MOST_REDIRECTS = 5
_ROBOTS_BYTES = 512 << 10
_RETRIED = frozenset({429, 500, 502, 503, 504})


class Unreachable(ReedgateError):
    """A page that could not be had, and why."""

    title = "The page could not be had"


@dataclass(frozen=True, slots=True)
class Limits:
    """How a page is asked for.

    Attributes:
        pause_s: between two requests to one host; longer where robots.txt asks for it.
        most_pause_s: a longer wait than this is not sat through.
        whole_s: for the whole of one page, however slowly it drips.
        attempts: of one request, the first included.
    """

    pause_s: float = 3.0
    most_pause_s: float = 60.0
    connect_s: float = 15.0
    whole_s: float = 120.0
    most_bytes: int = 40 << 20
    attempts: int = 2


@dataclass(frozen=True, slots=True)
class Known:
    """What an earlier answer said of its own freshness."""

    etag: str = ""
    last_modified: str = ""


@dataclass(frozen=True, slots=True)
class Page:
    """An answer.

    Attributes:
        url: the address that answered in the end.
        moved_to: where the page has moved for good; empty if it has not.
        unchanged: it is as it was (304); ``content`` is then empty.
    """

    url: str
    content: bytes
    content_type: str = ""
    charset: str = ""
    etag: str = ""
    last_modified: str = ""
    moved_to: str = ""
    unchanged: bool = False


@dataclass
class Fetcher:
    """Fetches pages of known sites, one after the other.

    Args:
        sites: those that may be asked; None for any public one.
        resolve: host to numeric addresses; the system's resolver if not given.
    """

    client: httpx.Client
    sites: Collection[Site] | None = None
    limits: Limits = field(default_factory=Limits)
    resolve: Resolve | None = None
    sleep: Callable[[float], None] = time.sleep
    clock: Callable[[], float] = time.monotonic
    _robots: dict[Site, Protego | None] = field(default_factory=dict)
    _last: dict[str, float] = field(default_factory=dict)

    def fetch(self, url: str, known: Known | None = None) -> Page:
        """A page, or that it has not changed.

        Raises:
            AddressRefused: the address, or one it redirects to, is not fetched.
            Unreachable: it does not answer, or not with the page.
        """
        moved_to = ""
        permanent = True
        address = url
        for _ in range(_MOST_REDIRECTS + 1):
            self._check(address)
            self._ask_robots(address)
            response, body = self._get(address, known)
            if response.status_code in (301, 302, 303, 307, 308):
                permanent = permanent and response.status_code in (301, 308)
                address = self._next(address, response)
                moved_to = address if permanent else moved_to
                continue
            return self._page(address, moved_to, response, body)
        raise Unreachable(f"{url} redirects more than {_MOST_REDIRECTS} times.")

    # Checks
    # ----------------------------------------------------------------------------------------------

    def _check(self, url: str) -> None:
        site = site_of(url)
        if self.sites is not None and site not in self.sites:
            raise AddressRefused(
                f"{url}: {site.scheme}://{site.host} is not among the sites of the list files.",
                next_step="If the page has moved there, correct url in the list file.",
            )
        public_addresses(site.host, site.port, self.resolve)

    def _next(self, address: str, response: httpx.Response) -> str:
        location: str = response.headers.get("Location", "")
        if not location:
            raise Unreachable(f"{address} redirects without saying where.")
        following = urljoin(address, location).split("#", 1)[0]
        if urlsplit(address).scheme == "https" and urlsplit(following).scheme == "http":
            raise AddressRefused(f"{address} redirects from https to http: {following}")
        return following

    def _ask_robots(self, url: str) -> None:
        site = site_of(url)
        if site not in self._robots:
            self._robots[site] = self._read_robots(url, site)
        robots = self._robots[site]
        if robots is not None and not robots.can_fetch(url, AGENT):
            raise AddressRefused(f"{url}: robots.txt of {site.host} asks not to fetch it.")

    def _read_robots(self, url: str, site: Site) -> Protego | None:
        parts = urlsplit(url)
        address = f"{parts.scheme}://{parts.netloc}/robots.txt"
        for _ in range(_MOST_REDIRECTS):
            self._check(address)
            response, body = self._get(address, None, most_bytes=_ROBOTS_BYTES)
            if response.status_code in (301, 302, 303, 307, 308):
                try:
                    address = self._next(address, response)
                    self._check(address)
                except AddressRefused:
                    return None
                continue
            if response.status_code >= 500:
                raise Unreachable(
                    f"robots.txt of {site.host} answers {response.status_code};"
                    " the site is then not asked."
                )
            if response.status_code >= 400:
                return None
            return Protego.parse(body.decode("utf-8", errors="replace"))
        return None

    # Requests
    # ----------------------------------------------------------------------------------------------

    def _get(
        self, url: str, known: Known | None, *, most_bytes: int | None = None
    ) -> tuple[httpx.Response, bytes]:
        problem = ""
        for attempt in range(self.limits.attempts):
            self._wait(url)
            wait_s = self.limits.pause_s
            try:
                response, body = self._send(url, known, most_bytes or self.limits.most_bytes)
            except httpx.TimeoutException:
                problem = "it did not answer in time"
            except httpx.RemoteProtocolError:
                problem = "the answer broke off"
            except httpx.DecodingError:
                problem = "the answer is damaged"
            except httpx.TransportError as error:
                problem = f"the connection failed ({type(error).__name__})"
            else:
                if response.status_code not in _RETRIED or url.endswith("/robots.txt"):
                    return response, body
                problem = f"it answered {response.status_code}"
                wait_s = self._asked_wait(response)
            if attempt + 1 < self.limits.attempts:
                if wait_s > self.limits.most_pause_s:
                    problem += f" and asks to wait {wait_s:.0f} s"
                    break
                self.sleep(wait_s)
        raise Unreachable(f"{url}: {problem}.", next_step="Try again later.")

    def _wait(self, url: str) -> None:
        site = site_of(url)
        pause = self.limits.pause_s
        robots = self._robots.get(site)
        if robots is not None:
            pause = max(pause, float(robots.crawl_delay(AGENT) or 0.0))
        pause = min(pause, self.limits.most_pause_s)
        if site.host in self._last:
            left = self._last[site.host] + pause - self.clock()
            if left > 0:
                self.sleep(left)
        self._last[site.host] = self.clock()

    def _send(self, url: str, known: Known | None, most_bytes: int) -> tuple[httpx.Response, bytes]:
        headers = {"User-Agent": _USER_AGENT, "Accept": "*/*"}
        if known is not None and known.etag:
            headers["If-None-Match"] = known.etag
        if known is not None and known.last_modified:
            headers["If-Modified-Since"] = known.last_modified
        deadline = self.clock() + self.limits.whole_s
        body = bytearray()
        timeout = httpx.Timeout(self.limits.whole_s, connect=self.limits.connect_s)
        with self.client.stream(
            "GET", url, headers=headers, timeout=timeout, follow_redirects=False
        ) as response:
            self._refuse_size(url, response.headers, most_bytes)
            for chunk in response.iter_bytes():
                body += chunk
                if len(body) > most_bytes:
                    raise Unreachable(f"{url} is larger than {most_bytes >> 20} MB.")
                if self.clock() > deadline:
                    raise httpx.ReadTimeout("the page came too slowly")
            length = response.headers.get("Content-Length", "")
            plain = "Content-Encoding" not in response.headers
            if length.isdecimal() and plain and len(body) < int(length):
                raise httpx.RemoteProtocolError("the page broke off")
        return response, bytes(body)

    def _refuse_size(self, url: str, headers: Mapping[str, str], most_bytes: int) -> None:
        length = headers.get("Content-Length", "")
        if length.isdecimal() and int(length) > most_bytes:
            raise Unreachable(f"{url} is larger than {most_bytes >> 20} MB.")

    def _asked_wait(self, response: httpx.Response) -> float:
        """The wait that ``Retry-After`` asks for, in seconds or as a date."""
        asked = response.headers.get("Retry-After", "").strip()
        if asked.isdecimal():
            return max(float(asked), self.limits.pause_s)
        try:
            return max(parsedate_to_datetime(asked).timestamp() - time.time(), self.limits.pause_s)
        except ValueError:
            return self.limits.pause_s

    def _page(self, address: str, moved_to: str, response: httpx.Response, body: bytes) -> Page:
        if response.status_code == 304:
            return Page(address, b"", moved_to=moved_to, unchanged=True)
        if response.status_code in (401, 403, 407):
            raise Unreachable(f"{address} answers {response.status_code}: it is not open to read.")
        if response.status_code in (404, 410):
            raise Unreachable(
                f"{address} answers {response.status_code}: the page is not there.",
                next_step="Find where the authority keeps it now and correct url in the list file.",
            )
        if response.status_code != 200:
            raise Unreachable(f"{address} answers {response.status_code}.")
        if not body.strip():
            raise Unreachable(f"{address} answers with nothing.")
        return Page(
            address,
            body,
            content_type=response.headers.get("Content-Type", "").split(";")[0].strip().lower(),
            charset=response.charset_encoding or "",
            etag=response.headers.get("ETag", ""),
            last_modified=response.headers.get("Last-Modified", ""),
            moved_to=moved_to,
        )
