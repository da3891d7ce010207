"""How pages are asked for: politely, within limits, and never off the known sites."""

from collections.abc import Iterator

import httpx
import pytest
import respx

from data_loaders.regulations.reading.addresses import (
    AddressRefused,
    Resolve,
    public_client,
    sites_of,
)
from data_loaders.regulations.reading.fetch import Fetcher, Known, Limits, Unreachable

PAGE = "https://law.example.gov/list"
ROBOTS = "https://law.example.gov/robots.txt"


@pytest.fixture
def web() -> Iterator[respx.MockRouter]:
    with respx.mock(assert_all_called=False) as router:
        router.get(ROBOTS).respond(404)
        yield router


class Clock:
    """A clock that only sleeping moves."""

    def __init__(self) -> None:
        self.now = 1_000.0
        self.slept: list[float] = []

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now += seconds

    def __call__(self) -> float:
        return self.now


def public(host: str, port: int) -> list[str]:
    return ["8.8.8.8"]


def fetcher(
    *, resolve: Resolve = public, limits: Limits | None = None, clock: Clock | None = None
) -> Fetcher:
    clock = clock or Clock()
    return Fetcher(
        public_client(resolve),
        sites_of([PAGE, "http://old.example.gov/"]),
        limits or Limits(),
        resolve,
        clock.sleep,
        clock,
    )


def test_a_page_comes_with_what_says_how_fresh_it_is(web: respx.MockRouter) -> None:
    web.get(PAGE).respond(
        200,
        html="<p>Trapa</p>",
        headers={"ETag": '"a1"', "Last-Modified": "Mon, 01 Jun 2026 00:00:00 GMT"},
    )
    page = fetcher().fetch(PAGE)
    assert page.content == b"<p>Trapa</p>"
    assert (page.etag, page.charset, page.content_type) == ('"a1"', "utf-8", "text/html")


def test_a_page_known_already_is_asked_for_with_conditions(web: respx.MockRouter) -> None:
    route = web.get(PAGE).respond(304)
    page = fetcher().fetch(PAGE, Known('"a1"', "Mon, 01 Jun 2026 00:00:00 GMT"))
    assert page.unchanged
    sent = route.calls.last.request.headers
    assert sent["If-None-Match"] == '"a1"'
    assert sent["If-Modified-Since"] == "Mon, 01 Jun 2026 00:00:00 GMT"
    assert sent["User-Agent"].startswith("Reedgate/")


def test_two_requests_of_one_host_have_a_pause_between_them(web: respx.MockRouter) -> None:
    web.get(PAGE).respond(200, text="Trapa")
    clock = Clock()
    asking = fetcher(clock=clock)
    asking.fetch(PAGE)
    asking.fetch(PAGE)
    assert clock.slept == [3.0, 3.0]


def test_the_pause_that_robots_asks_for_is_kept(web: respx.MockRouter) -> None:
    web.get(ROBOTS).respond(200, text="User-agent: *\nCrawl-delay: 20\nDisallow: /private")
    web.get(PAGE).respond(200, text="Trapa")
    clock = Clock()
    fetcher(clock=clock).fetch(PAGE)
    assert clock.slept == [20.0]


def test_what_robots_forbids_is_not_fetched(web: respx.MockRouter) -> None:
    web.get(ROBOTS).respond(200, text="User-agent: *\nDisallow: /list")
    route = web.get(PAGE).respond(200, text="Trapa")
    with pytest.raises(AddressRefused, match=r"robots\.txt"):
        fetcher().fetch(PAGE)
    assert not route.called


def test_a_site_whose_robots_cannot_be_had_is_not_asked(web: respx.MockRouter) -> None:
    web.get(ROBOTS).respond(503)
    with pytest.raises(Unreachable, match=r"robots\.txt"):
        fetcher().fetch(PAGE)


@pytest.mark.parametrize(
    "target",
    [
        "http://127.0.0.1/",
        "http://localhost/",
        "http://[::1]/",
        "http://169.254.169.254/latest/meta-data/",
        "http://10.0.0.1/",
        "http://192.168.0.1/admin",
        "https://elsewhere.example.com/list",
        "http://law.example.gov/list",
        "https://law.example.gov:8443/list",
        "file:///etc/passwd",
        "ftp://law.example.gov/list",
    ],
)
def test_a_redirect_off_the_known_sites_is_refused(web: respx.MockRouter, target: str) -> None:
    web.get(PAGE).respond(302, headers={"Location": target})
    route = web.get(target).respond(200, text="secret") if target.startswith("http") else None
    with pytest.raises(AddressRefused):
        fetcher().fetch(PAGE)
    assert route is None or not route.called


@pytest.mark.parametrize("target", ["http://127.0.0.1/", "http://10.0.0.1/", "http://[fd00::1]/"])
def test_a_redirect_to_a_private_address_is_refused_where_any_site_may_be_asked(
    web: respx.MockRouter, target: str
) -> None:
    start = "http://old.example.gov/"
    web.get("http://old.example.gov/robots.txt").respond(404)
    web.get(start).respond(302, headers={"Location": target})

    def resolve(host: str, port: int) -> list[str]:
        return ["8.8.8.8"] if host == "old.example.gov" else [host]

    asking = fetcher(resolve=resolve)
    asking.sites = None
    with pytest.raises(AddressRefused, match="public network"):
        asking.fetch(start)


def test_a_name_that_resolves_to_a_private_address_is_refused(web: respx.MockRouter) -> None:
    route = web.get(PAGE).respond(200, text="secret")
    with pytest.raises(AddressRefused, match="public network"):
        fetcher(resolve=lambda host, port: ["10.1.2.3"]).fetch(PAGE)
    assert not route.called


def test_a_page_that_moved_for_good_is_followed_and_named(web: respx.MockRouter) -> None:
    web.get(PAGE).respond(301, headers={"Location": "/rules/list"})
    web.get("https://law.example.gov/rules/list").respond(200, text="Trapa")
    page = fetcher().fetch(PAGE)
    assert page.moved_to == page.url == "https://law.example.gov/rules/list"


def test_a_page_that_is_elsewhere_for_now_is_followed_and_not_called_moved(
    web: respx.MockRouter,
) -> None:
    web.get(PAGE).respond(302, headers={"Location": "/rules/list"})
    web.get("https://law.example.gov/rules/list").respond(200, text="Trapa")
    assert fetcher().fetch(PAGE).moved_to == ""


def test_redirects_that_go_round_end(web: respx.MockRouter) -> None:
    web.get(PAGE).respond(302, headers={"Location": PAGE})
    with pytest.raises(Unreachable, match="redirects more than"):
        fetcher().fetch(PAGE)


@pytest.mark.parametrize(
    ("status", "words"), [(404, "not there"), (410, "not there"), (403, "not open"), (418, "418")]
)
def test_an_answer_that_is_not_the_page_says_which(
    web: respx.MockRouter, status: int, words: str
) -> None:
    web.get(PAGE).respond(status)
    with pytest.raises(Unreachable, match=words):
        fetcher().fetch(PAGE)


def test_a_server_error_is_tried_once_more_after_a_pause(web: respx.MockRouter) -> None:
    web.get(PAGE).mock(side_effect=[httpx.Response(500), httpx.Response(200, text="Trapa")])
    assert fetcher().fetch(PAGE).content == b"Trapa"


def test_a_server_error_that_stays_is_said(web: respx.MockRouter) -> None:
    route = web.get(PAGE).respond(500)
    with pytest.raises(Unreachable, match="answered 500"):
        fetcher().fetch(PAGE)
    assert route.call_count == 2


def test_a_long_wait_asked_for_is_not_sat_through(web: respx.MockRouter) -> None:
    web.get(PAGE).respond(429, headers={"Retry-After": "3600"})
    clock = Clock()
    with pytest.raises(Unreachable, match="wait 3600 s"):
        fetcher(clock=clock).fetch(PAGE)
    assert sum(clock.slept) < 60


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (httpx.ConnectTimeout("slow"), "in time"),
        (httpx.ReadTimeout("slow"), "in time"),
        (httpx.ConnectError("refused"), "connection failed"),
        (httpx.RemoteProtocolError("half"), "broke off"),
    ],
)
def test_a_connection_that_fails_is_said_in_plain_words(
    web: respx.MockRouter, error: Exception, words: str
) -> None:
    web.get(PAGE).mock(side_effect=error)
    with pytest.raises(Unreachable, match=words):
        fetcher().fetch(PAGE)


def test_a_page_half_sent_is_not_taken(web: respx.MockRouter) -> None:
    web.get(PAGE).respond(200, content=b"Trapa", headers={"Content-Length": "500"})
    with pytest.raises(Unreachable, match="broke off"):
        fetcher().fetch(PAGE)


def test_a_page_larger_than_the_limit_is_not_taken(web: respx.MockRouter) -> None:
    web.get(PAGE).respond(200, content=b"x" * (3 << 20))
    with pytest.raises(Unreachable, match="larger than 1 MB"):
        fetcher(limits=Limits(most_bytes=1 << 20)).fetch(PAGE)
