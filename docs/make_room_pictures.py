"""Pictures of every room of the page, at a desk and on a phone, over the invented county.

    python -m docs.make_room_pictures

Needs an installed Chromium and playwright, as ``docs.make_pictures``.
"""

import tempfile
from collections.abc import Callable
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, expect, sync_playwright

from data_loaders.reference_store import load_demo
from docs.make_pictures import _COLOURS, _served
from service.output.pdf import require_printer

FOLDER = Path(__file__).parent / "rooms"
WIDTHS = {"desk": 1280, "phone": 390}
MOST_HEIGHT = 2_400
"""Of a picture, in CSS pixels; a longer page is cut."""
_WAIT_MS = 60_000


def _plain(page: Page) -> None:
    page.wait_for_timeout(300)


def _list(page: Page) -> None:
    for state in ("US-WI", "US-OH"):
        page.locator("#add-place").select_option(state)
    page.get_by_role("button", name="Check the law, line by line").click()
    expect(page.locator("#status")).to_contain_text("answered", timeout=_WAIT_MS)
    page.get_by_role("button", name="Why and whom to ask about Yellow flag").click()
    expect(page.locator("tr.reasons:not([hidden])")).to_contain_text("Confirm with")


def _place(page: Page) -> None:
    expect(page.locator("#status")).to_contain_text("Worked out", timeout=_WAIT_MS)


def _sites(page: Page) -> None:
    page.get_by_role("button", name="Try the example").click()
    expect(page.locator("#status")).to_contain_text("screened", timeout=_WAIT_MS)


ROOMS: dict[str, tuple[str, Callable[[Page], None]]] = {
    "start": ("/", _plain),
    "plant": ("/plant?label=Water+hyacinth+4in&in=US-WI&also=OH&act=sell", _plain),
    "list": ("/list?example=list", _list),
    "place": ("/place?example=1", _place),
    "sites": ("/sites", _sites),
    "law": ("/law", _plain),
}


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="reedgate-pictures-") as folder:
        store = Path(folder, "demo.db")
        load_demo(store)
        with sync_playwright() as playwright, _served(store) as address:
            browser = playwright.chromium.launch(
                executable_path=str(require_printer()), args=["--disable-gpu", "--no-sandbox"]
            )
            for size, width in WIDTHS.items():
                for name, (path, fill) in ROOMS.items():
                    page = browser.new_page(viewport={"width": width, "height": 900})
                    page.goto(address.rstrip("/") + path)
                    page.wait_for_selector("main[data-ready], main:not([data-room])")
                    fill(page)
                    _take(page, FOLDER / f"{name}_{size}.png", width)
                    page.close()
            browser.close()


def _take(page: Page, out: Path, width: int) -> None:
    page.evaluate("() => window.scrollTo(0, 0)")
    height = min(MOST_HEIGHT, int(page.evaluate("() => document.documentElement.scrollHeight")))
    page.screenshot(
        path=out, full_page=True, clip={"x": 0, "y": 0, "width": width, "height": height}
    )
    with Image.open(out) as picture:
        picture.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE).save(out, optimize=True)


if __name__ == "__main__":
    main()
