"""The page as a whole: the second visit, going back, every room by its address, the token, no
script, no other host.
"""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from service.settings import Settings
from service.store.tokens import TokenFile
from tests.browser.conftest import WIDE, Visit, served

ROOMS = ["/", "/plant", "/list", "/place", "/sites", "/law"]


def is_styled(page: Page) -> bool:
    """Whether style and script of the page are there."""
    found: bool = page.evaluate(
        "getComputedStyle(document.querySelector('.band')).backgroundColor !== 'rgba(0, 0, 0, 0)'"
        " && document.documentElement.classList.contains('has-script')"
    )
    return found


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_is_whole_at_the_second_visit(either: Page, room: str) -> None:
    either.goto(room)
    assert is_styled(either)
    either.goto("/law" if room != "/law" else "/list")
    either.goto(room)
    assert is_styled(either)
    either.reload()
    assert is_styled(either)
    either.go_back()
    assert is_styled(either)
    either.go_forward()
    assert is_styled(either)
    assert re.search(rf"{re.escape(room)}$", either.url)


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_needs_no_sideways_scrolling_on_a_phone(phone: Page, room: str) -> None:
    phone.goto(room)
    for width in (390, 320):
        phone.set_viewport_size({"width": width, "height": 800})
        assert phone.evaluate("document.documentElement.scrollWidth") <= width


def test_every_room_is_reached_from_the_start_by_keyboard(page: Page) -> None:
    page.goto("/")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    for title in ("A plant", "A list", "A place", "Many sites", "The law loaded"):
        page.goto("/")
        link = page.locator("nav").get_by_role("link", name=title)
        for _ in range(9):
            page.keyboard.press("Tab")
            if link.evaluate("(link) => link === document.activeElement"):
                break
        page.keyboard.press("Enter")
        expect(page.locator("h1")).to_have_text(title)


def test_a_look_up_has_an_address_that_can_be_kept(page: Page) -> None:
    page.goto("/")
    page.get_by_label("Plant", exact=True).fill("Water hyacinth 4in")
    page.get_by_label("State").select_option("US-WI")
    page.get_by_role("button", name="Look it up").click()
    expect(page.locator("#found")).to_contain_text("Pontederia crassipes")
    address = page.url
    page.goto("/law")
    page.goto(address)
    expect(page.locator("#found")).to_contain_text("Permit required")
    expect(page.locator("#found")).to_contain_text("Wisconsin: ")


def test_the_old_address_of_a_look_up_goes_on_to_the_plant(page: Page) -> None:
    page.goto("/?label=Yellow+flag&in=US-OH&act=sell")
    expect(page.locator("h1")).to_have_text("A plant")
    expect(page.locator("#found")).to_contain_text("Iris pseudacorus")


def test_from_the_law_to_a_list_to_a_plant_there_is_no_dead_end(page: Page) -> None:
    page.goto("/law")
    page.locator("#US-WI").get_by_role("link", name="Invasive species: prohibited").click()
    expect(page.locator("h1")).to_contain_text("Invasive species")
    page.get_by_role("link", name="Butomus umbellatus").click()
    expect(page.locator("#found")).to_contain_text("Butomus umbellatus")
    page.get_by_role("link", name="Try it in a place").click()
    expect(page.locator("#groups")).to_contain_text("Butomus umbellatus")


def test_one_plant_is_looked_up_without_script(plain: Page) -> None:
    plain.goto("/plant")
    plain.get_by_label("Plant, as it stands on the tag").fill("Water hyacinth 4in")
    plain.locator("#in").select_option("US-WI")
    plain.get_by_role("button", name="Look it up").click()
    expect(plain.locator("#found")).to_contain_text("Pontederia crassipes")


def test_a_list_is_answered_without_script(plain: Page) -> None:
    plain.goto("/list")
    plain.get_by_label("Plants", exact=True).fill("Yellow flag iris\nIris versicolor")
    plain.locator("#to-plain").select_option(["US-OH", "US-WI"])
    plain.get_by_role("button", name="Check the law, line by line").click()
    expect(plain.locator("table.stock tbody tr")).to_have_count(2)
    expect(plain.locator("table.stock")).to_contain_text("Prohibited")


def test_a_closed_service_asks_for_the_token_once_and_keeps_it_for_the_tab(
    browser: Browser, tmp_path: Path
) -> None:
    tokens = TokenFile(tmp_path / "tokens.json")
    token = tokens.add("browser", ("read",))[1]
    config = Settings(require_token=True, tokens_file=tmp_path / "tokens.json")
    with served(config) as address:
        visit = Visit(browser, address, viewport=WIDE)
        page = visit.context.new_page()
        page.goto("/list")
        expect(page.get_by_role("dialog")).to_be_visible()
        page.get_by_label("Token").fill("wrong")
        page.get_by_role("button", name="Go on").click()
        expect(page.get_by_role("dialog")).to_contain_text("not taken")
        page.get_by_label("Token").fill(token)
        page.get_by_role("button", name="Go on").click()
        expect(page.locator("h1")).to_have_text("A list")
        page.get_by_label("Plants", exact=True).fill("Yellow flag iris")
        page.locator("#add-place").select_option("US-OH")
        page.get_by_role("button", name="Check the law, line by line").click()
        expect(page.locator("#lines tbody")).to_contain_text("Iris pseudacorus")
        page.locator("nav").get_by_role("link", name="The law loaded").click()
        expect(page.locator("h1")).to_have_text("The law loaded")
        page.reload()
        expect(page.locator("h1")).to_have_text("The law loaded")
        another = visit.context.new_page()
        another.goto("/list")
        expect(another.get_by_role("dialog")).to_be_visible()
        visit.leave()


def test_the_page_is_light_without_the_map(page: Page) -> None:
    page.goto("/")
    sizes: list[int] = page.evaluate(
        "performance.getEntriesByType('resource').concat(performance.getEntriesByType('navigation'))"
        ".filter((entry) => !entry.name.includes('leaflet')).map((entry) => entry.encodedBodySize)"
    )
    page.goto("/list")
    assert 0 < sum(sizes) < 150_000


def test_a_dark_scheme_and_calm_motion_are_kept(browser: Browser, address: str) -> None:
    visit = Visit(browser, address, viewport=WIDE, color_scheme="dark", reduced_motion="reduce")
    page = visit.context.new_page()
    page.goto("/place")
    paper = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert paper == "rgb(16, 25, 29)"
    expect(page.locator("#map .leaflet-zoom-animated").first).to_have_count(0)
    visit.leave()
