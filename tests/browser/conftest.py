"""A real headless Chromium on the page of a running service over the demonstration store.

Skipped, with the reason said, where Chromium or playwright is missing; failed where ``CI`` is set.
The browser is the one that is installed (``REEDGATE_CHROMIUM`` names another); none is downloaded.
"""

import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from service.output.pdf import find_printer
from service.settings import Settings
from tests.service.demo_stores import demo_path

if "CI" not in os.environ:
    pytest.importorskip(
        "playwright.sync_api", reason="playwright is not installed: pip install playwright"
    )
from playwright.sync_api import Browser, ConsoleMessage, Page, Request, expect, sync_playwright

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
expect.set_options(timeout=20_000)
FLAGS = ["--disable-gpu", "--disable-background-networking", "--disable-dev-shm-usage"]


@contextmanager
def served(config: Settings | None = None) -> Iterator[str]:
    """A service over the demonstration store, for as long as it is needed."""
    import uvicorn

    from service.api.app import create_app

    app = create_app(demo_path(), config)
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_config=None))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 30
    while not server.started and time.monotonic() < until:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join(10)


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """Where the service answers."""
    with served() as address:
        yield address


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium with a profile of its own."""
    found = find_printer()
    if found is None:
        missing = "no Chromium is installed (Debian: apt-get install chromium)"
        if "CI" in os.environ:
            pytest.fail(missing)
        pytest.skip(missing)
    # Chromium refuses its sandbox to root.
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else FLAGS
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(found), args=flags)
        yield browser
        browser.close()


class Visit:
    """One visitor: a context of its own, and what went wrong in it."""

    def __init__(self, browser: Browser, address: str, **options: Any) -> None:
        self.address = address
        self.context = browser.new_context(base_url=address, **options)
        self.context.set_default_timeout(20_000)
        self.complaints: list[str] = []
        self.strangers: set[str] = set()
        self.context.on("console", self._note)
        self.context.on("weberror", lambda error: self.complaints.append(str(error.error)))
        self.context.on("request", self._asked)

    def _note(self, message: ConsoleMessage) -> None:
        # An answer with an error status is expected where a test asks for one.
        if message.type == "error" and "status of 4" not in message.text:
            self.complaints.append(message.text)

    def _asked(self, request: Request) -> None:
        if not request.url.startswith((self.address, "blob:", "data:", "file:")):
            self.strangers.add(request.url)

    def leave(self) -> None:
        """Close, and fail if the console complained or another host was asked."""
        self.context.close()
        assert self.complaints == []
        assert self.strangers == set()


def _visiting(browser: Browser, address: str, **options: Any) -> Iterator[Page]:
    visit = Visit(browser, address, **options)
    yield _patient(visit.context.new_page())
    visit.leave()


def _patient(page: Page) -> Page:
    """A tab that waits after each visit until the script of the room is there, as a person does."""
    go = page.goto

    def goto(address: str, **options: Any) -> Any:
        answer = go(address, **options)
        if page.locator("html.has-script main[data-room]").count():
            page.wait_for_selector("main[data-ready]", state="attached")
        return answer

    page.goto = goto  # type: ignore[method-assign, assignment]
    return page


WIDE = {"width": 1280, "height": 900}
NARROW = {"width": 390, "height": 844}


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    """A wide screen."""
    yield from _visiting(browser, address, viewport=WIDE)


@pytest.fixture
def phone(browser: Browser, address: str) -> Iterator[Page]:
    """A phone, 390 px wide."""
    yield from _visiting(browser, address, viewport=NARROW, has_touch=True)


@pytest.fixture(params=["wide", "narrow"])
def either(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Page]:
    """A wide screen, then a phone."""
    size = WIDE if request.param == "wide" else NARROW
    yield from _visiting(browser, address, viewport=size, has_touch=size is NARROW)


@pytest.fixture
def plain(browser: Browser, address: str) -> Iterator[Page]:
    """A browser without script."""
    yield from _visiting(browser, address, java_script_enabled=False)


@pytest.fixture
def audited(browser: Browser, address: str) -> Iterator[Page]:
    """An empty tab with axe for every document, which the page's own policy would not let in as
    a script.
    """
    visit = Visit(browser, address, viewport=WIDE)
    visit.context.add_init_script(path=AXE)
    yield _patient(visit.context.new_page())
    visit.leave()
