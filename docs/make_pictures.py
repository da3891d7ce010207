"""The pictures of the three walks, taken of the real page and reports over the invented county.

    python -m docs.make_pictures

Needs an installed Chromium and playwright. Text is drawn by the fonts of the machine, so the bytes
differ from one to another.
"""

import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import uvicorn
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from data_loaders.reference_store import load_demo
from service.api.app import create_app
from service.checks.community.screening import screen_community
from service.checks.plan.check import check_plan
from service.input.community import read_community
from service.input.json_document import parse_json
from service.input.plan import read_plan
from service.output.html.report import community_report, report_of
from service.output.pdf import require_printer
from service.store.database import Build
from service.store.library import Library

FOLDER = Path(__file__).parent
DEMO = FOLDER.parent / "demo_data"
ON = date(2026, 6, 1)
_COLOURS = 24


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="reedgate-pictures-") as folder:
        store = Path(folder, "demo.db")
        load_demo(store)
        library = Library(Build(store))
        plan = read_plan(parse_json((DEMO / "plans" / "heron_bend_plan.json").read_bytes()))
        community = read_community(
            parse_json((DEMO / "plans" / "ferrow_community.geojson").read_bytes())
        )
        reports = {
            "designer": report_of(library, check_plan(library, plan, on=ON)),
            "watershed": community_report(screen_community(library, community, on=ON)),
        }
        for name, report in reports.items():
            Path(folder, f"{name}.html").write_text(report, encoding="utf-8")
        with sync_playwright() as playwright, _served(store) as address:
            browser = playwright.chromium.launch(
                executable_path=str(require_printer()), args=["--disable-gpu", "--no-sandbox"]
            )
            page = browser.new_page(viewport={"width": 1100, "height": 900})
            _nursery(page, address)
            page.goto(Path(folder, "designer.html").as_uri())
            _take(page, "designer", ".head, main > section:first-of-type")
            _take(page, "designer_plant", "article:has(#planting-2)")
            page.goto(Path(folder, "watershed.html").as_uri())
            _take(page, "watershed", "main > section:first-of-type")
            browser.close()


def _nursery(page: Page, address: str) -> None:
    """Twelve lines of the invented stock against three states."""
    lines = (DEMO / "stock" / "marl_hollow_stock.csv").read_text(encoding="utf-8").splitlines()
    page.goto(f"{address}list")
    page.get_by_label("Plants", exact=True).fill("\n".join(lines[:13]))
    for state in ("US-WI", "US-MN", "US-FL"):
        page.locator("#add-place").select_option(state)
    page.get_by_role("button", name="Check the law, line by line").click()
    page.locator("#status", has_text="answered").wait_for()
    _take(page, "nursery", "#answer > h2, #filters, #lines")


def _take(page: Page, name: str, selector: str) -> None:
    """The part of the page that a selector covers, in few colours: the page has no more."""
    page.evaluate("window.scrollTo(0, 0)")
    boxes = [
        box for box in (element.bounding_box() for element in page.locator(selector).all()) if box
    ]
    left, top = min(box["x"] for box in boxes), min(box["y"] for box in boxes)
    right, bottom = (
        max(box["x"] + box["width"] for box in boxes),
        max(box["y"] + box["height"] for box in boxes),
    )
    out = FOLDER / f"{name}.png"
    clip = {"x": left - 8, "y": top - 8, "width": right - left + 16, "height": bottom - top + 16}
    page.screenshot(path=out, full_page=True, clip=clip)  # type: ignore[arg-type]
    with Image.open(out) as picture:
        picture.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE).save(out, optimize=True)


@contextmanager
def _served(store: Path) -> Iterator[str]:
    server = uvicorn.Server(uvicorn.Config(create_app(store), port=0, log_config=None))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}/"
    server.should_exit = True
    thread.join(10)


if __name__ == "__main__":
    main()
