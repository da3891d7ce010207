"""A real headless Chromium on the page of a running service over the demonstration store.

Skipped, with the reason said, where Chromium or playwright is missing. The browser is the one that
is installed (``REEDGATE_CHROMIUM`` names another); none is downloaded.
"""

import os
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.output.pdf import find_printer
from tests.service.demo_stores import demo_path

playwright_api = pytest.importorskip(
    "playwright.sync_api", reason="playwright is not installed: pip install playwright"
)
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
FLAGS = ["--disable-gpu", "--disable-background-networking", "--disable-dev-shm-usage"]


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """Where the service answers."""
    import uvicorn

    from service.api.app import create_app

    server = uvicorn.Server(uvicorn.Config(create_app(demo_path()), port=0, log_config=None))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 30
    while not server.started and time.monotonic() < until:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join(10)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium with a profile of its own."""
    found = find_printer()
    if found is None:
        pytest.skip("no Chromium is installed (Debian: apt-get install chromium)")
    # Chromium refuses its sandbox to root.
    flags = [*FLAGS, "--no-sandbox"] if os.geteuid() == 0 else FLAGS
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(found), args=flags)
        yield browser
        browser.close()


def _noting(context: BrowserContext) -> list[str]:
    """What the console complains of, blocked content included."""
    complaints: list[str] = []

    def note(message: ConsoleMessage) -> None:
        # An answer with an error status is expected where a test asks for one.
        if message.type == "error" and "status of 4" not in message.text:
            complaints.append(message.text)

    context.on("console", note)
    context.on("weberror", lambda error: complaints.append(str(error.error)))
    return complaints


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    """The page on a wide screen; a complaint on the console fails the test."""
    context = browser.new_context(base_url=address, viewport={"width": 1280, "height": 900})
    complaints = _noting(context)
    page = context.new_page()
    page.set_default_timeout(15_000)
    page.goto("/")
    yield page
    context.close()
    assert complaints == []


@pytest.fixture
def phone(browser: Browser, address: str) -> Iterator[Page]:
    """The page on a screen 320 px wide."""
    context = browser.new_context(
        base_url=address, viewport={"width": 320, "height": 640}, has_touch=True
    )
    complaints = _noting(context)
    page = context.new_page()
    page.set_default_timeout(15_000)
    page.goto("/")
    yield page
    context.close()
    assert complaints == []


@pytest.fixture
def plain(browser: Browser, address: str) -> Iterator[Page]:
    """The page without script."""
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    page.set_default_timeout(15_000)
    page.goto("/")
    yield page
    context.close()


@pytest.fixture
def audited(browser: Browser, address: str) -> Iterator[Page]:
    """An empty tab with axe for every document, which the page's own policy would not let in as
    a script.
    """
    context = browser.new_context(base_url=address, viewport={"width": 1280, "height": 900})
    context.add_init_script(path=AXE)
    page = context.new_page()
    page.set_default_timeout(15_000)
    yield page
    context.close()
