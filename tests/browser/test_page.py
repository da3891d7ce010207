"""The page as people use it: pasted list to report, place off the map, keyboard alone, a phone,
no script.
"""

import csv
import json
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.service.demo_stores import PLAN

LIST = "Eichhornia crassipes (Water Hyacinth) bunch\nYellow flag iris\nPickerel rush, blue\nIris versicolor\n"


def fill(page: Page, plants: str = LIST, state: str = "US-OH") -> None:
    page.get_by_label("Plants", exact=True).fill(plants)
    page.locator("#state").select_option(state)
    expect(page.locator("#county option")).to_have_count(89)


def tab_to(page: Page, selector: str, most: int = 90) -> None:
    """Press Tab until the focus is on what the selector names."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate(
            "(selector) => document.activeElement?.matches(selector) ?? false", selector
        ):
            return
    raise AssertionError(f"{selector} is not reached by Tab")


def test_a_pasted_list_becomes_a_table_and_then_a_report(page: Page) -> None:
    fill(page)
    page.get_by_role("button", name="Check the law, line by line").click()
    rows = page.locator("#answer tbody tr")
    expect(rows).to_have_count(4)
    expect(page.locator("#status")).to_have_text("Done.")
    expect(rows.nth(1)).to_contain_text("Iris pseudacorus")
    rows.nth(1).locator("summary").first.click()
    expect(rows.nth(1)).to_contain_text("Confirm with Ohio Department of Agriculture")
    page.get_by_role("button", name="Work out the plan").click()
    expect(page.locator("#answer")).to_contain_text("Decide these first")
    with page.context.expect_page() as opened:
        page.get_by_role("button", name="Open the report to print").click()
    report = opened.value
    expect(report.get_by_role("heading", name="Decide these first")).to_be_visible()
    expect(report.get_by_role("heading", level=3, name="Iris pseudacorus")).to_be_visible()
    assert (
        report.evaluate("getComputedStyle(document.querySelector('h2')).borderTopStyle") == "solid"
    )


def test_every_citation_of_the_report_leads_to_its_source_and_back(page: Page) -> None:
    page.get_by_label("Plants", exact=True).fill(PLAN.read_text(encoding="utf-8"))
    page.get_by_role("button", name="Work out the plan").click()
    with page.context.expect_page() as opened:
        page.get_by_role("button", name="Open the report to print").click()
    report = opened.value
    report.wait_for_load_state()
    lost = report.evaluate(
        "[...document.querySelectorAll('a[href^=\"#\"]')].filter((a) => !document.getElementById(a.hash.slice(1))).length"
    )
    assert lost == 0
    mark = report.locator("a.cite").first
    number = (mark.get_attribute("href") or "").removeprefix("#source-")
    mark.click()
    expect(report.locator(f"#source-{number}")).to_be_in_viewport()
    report.locator(f"#source-{number} .back a").first.click()
    assert report.evaluate("document.querySelector(':target').id") == mark.get_attribute("id")


def test_the_answer_is_shown_as_it_arrives(page: Page) -> None:
    fill(page, "\n".join(f"Iris versicolor lot {number}" for number in range(400)))
    page.evaluate(
        """() => {
            window.seen = [];
            const rows = () => document.querySelectorAll("#answer tbody tr").length;
            new MutationObserver(() => window.seen.push(rows())).observe(document.querySelector("#answer"), { childList: true, subtree: true });
        }"""
    )
    page.get_by_role("button", name="Check the law, line by line").click()
    expect(page.locator("#status")).to_have_text("Done.")
    expect(page.locator("#answer tbody tr")).to_have_count(400)
    seen: list[int] = page.evaluate("window.seen")
    assert any(0 < rows < 400 for rows in seen), seen[:10]


def test_the_place_is_picked_on_the_map(page: Page) -> None:
    page.get_by_text("Pick the place on a map").click()
    page.locator("svg.is-states a[data-state=US-OH] path").click()
    expect(page.locator("#map-title")).to_have_text("Ohio: choose a county")
    expect(page.locator("#map-title")).to_be_focused()
    expect(page.locator("#state")).to_have_value("US-OH")
    page.locator("svg.is-counties a[data-county='39051']").click()
    expect(page.locator("#county")).to_have_value("39051")
    county = page.locator("svg.is-county")
    box = county.bounding_box()
    assert box is not None
    county.click(position={"x": box["width"] / 3, "y": box["height"] / 3})
    longitude, latitude = (float(part) for part in page.locator("#at").input_value().split(","))
    # Fulton County, Ohio, lies between these.
    assert -84.4 < longitude < -83.8
    assert 41.4 < latitude < 41.8
    page.get_by_text("Back to the states").click()
    expect(page.locator("svg.is-states")).to_be_visible()


def test_the_lists_of_places_and_the_map_say_the_same(page: Page) -> None:
    page.get_by_text("Pick the place on a map").click()
    page.locator("#state").select_option("US-RI")
    expect(page.locator("svg.is-counties a.place")).to_have_count(5)
    page.locator("#county").select_option(label="Kent County")
    expect(page.locator("#map-title")).to_contain_text("Kent County")


def test_everything_goes_by_keyboard_alone(page: Page) -> None:
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    tab_to(page, "#plants")
    page.keyboard.type("Yellow flag iris")
    tab_to(page, "#map-box summary")
    page.keyboard.press("Enter")
    tab_to(page, "a[data-state='US-OH']")
    page.keyboard.press("Enter")
    expect(page.locator("#map-title")).to_be_focused()
    tab_to(page, "a[data-county='39051']")
    page.keyboard.press("Enter")
    expect(page.locator("#county")).to_have_value("39051")
    tab_to(page, "button.main[value=page]")
    page.keyboard.press("Enter")
    expect(page.locator("#answer tbody tr")).to_have_count(1)
    expect(page.locator("#answer")).to_be_focused()
    tab_to(page, "#answer details summary")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("Confirm with Ohio Department of Agriculture")


def test_what_has_the_focus_is_marked(page: Page) -> None:
    page.get_by_text("Pick the place on a map").click()
    for selector in ("#label", "#state", "button.main[value=page]", "summary", "nav a"):
        element = page.locator(selector).first
        page.keyboard.press("Tab")  # the mark is for keyboards alone
        element.focus()
        assert element.evaluate("(each) => getComputedStyle(each).outlineStyle") == "solid", (
            selector
        )
    page.locator("a[data-state='US-TX']").focus()
    assert (
        page.locator("a[data-state='US-TX'] path").evaluate(
            "(each) => getComputedStyle(each).strokeWidth"
        )
        == "3px"
    )


def test_a_phone_needs_no_sideways_scrolling(phone: Page) -> None:
    def width() -> int:
        found: int = phone.evaluate("document.documentElement.scrollWidth")
        return found

    assert width() <= 320
    phone.get_by_text("Pick the place on a map").click()
    phone.get_by_text("More of the place").click()
    phone.get_by_text("The water, for a plan").click()
    fill(phone)
    assert width() <= 320
    phone.get_by_role("button", name="Check the law, line by line").click()
    expect(phone.locator("#status")).to_have_text("Done.")
    assert width() <= 320
    phone.get_by_role("button", name="Work out the plan").click()
    expect(phone.locator("#answer")).to_contain_text("Decide these first")
    assert width() <= 320
    with phone.context.expect_page() as opened:
        phone.get_by_role("button", name="Open the report to print").click()
    opened.value.wait_for_load_state()
    assert opened.value.evaluate("document.documentElement.scrollWidth") <= 320
    phone.goto("/coverage")
    assert width() <= 320


def test_one_plant_is_looked_up_without_script(plain: Page) -> None:
    plain.get_by_label("Plant, as it stands on the tag").fill("Water hyacinth 4in")
    plain.locator("#in").select_option("US-WI")
    plain.get_by_role("button", name="Look it up").click()
    expect(plain.locator("#found")).to_contain_text("Pontederia crassipes")
    expect(plain.locator("#found")).to_contain_text("Permit required")


def test_a_list_a_place_and_a_report_go_without_script(plain: Page) -> None:
    plain.get_by_label("Plants", exact=True).fill(LIST)
    plain.locator("#state").select_option("US-OH")
    plain.get_by_role("button", name="List its counties").click()
    expect(plain.locator("#plants")).to_have_value(LIST)
    plain.locator("#county").select_option(label="Fulton County")
    plain.get_by_role("button", name="Check the law, line by line").click()
    expect(plain.locator("table.stock tbody tr")).to_have_count(4)
    plain.get_by_role("button", name="Work out as a plan").click()
    expect(plain.get_by_role("heading", name="Decide these first")).to_be_visible()


def test_a_file_is_dropped_into_the_box(page: Page) -> None:
    transfer = page.evaluate_handle(
        """() => {
            const transfer = new DataTransfer();
            transfer.items.add(new File(["label,size\\nWater lettuce,4in\\n"], "stock.csv", { type: "text/csv" }));
            return transfer;
        }"""
    )
    page.locator("#drop").dispatch_event("drop", {"dataTransfer": transfer})
    expect(page.locator("#plants")).to_have_value("label,size\nWater lettuce,4in\n")
    expect(page.locator("#status")).to_have_text("stock.csv is in the box.")


def test_answers_are_downloaded_as_csv_and_geojson(page: Page, tmp_path: Path) -> None:
    page.get_by_label("Open a file").set_input_files(PLAN)
    expect(page.locator("#status")).to_have_text(f"{PLAN.name} is in the box.")
    with page.expect_download() as download:
        page.get_by_role("button", name="plan as GeoJSON").click()
    download.value.save_as(tmp_path / "plan.geojson")
    features = json.loads((tmp_path / "plan.geojson").read_text(encoding="utf-8"))["features"]
    assert features
    with page.expect_download() as download:
        page.get_by_role("button", name="plan as CSV").click()
    download.value.save_as(tmp_path / "plan.csv")
    with (tmp_path / "plan.csv").open(encoding="utf-8", newline="") as stream:
        assert len(list(csv.DictReader(stream))) == len(
            json.loads(PLAN.read_text(encoding="utf-8"))["plantings"]
        )


@pytest.mark.parametrize(
    ("plants", "words"), [("", "No plant is given."), ('{"site": ', "The document is no JSON")]
)
def test_what_cannot_be_answered_is_told_where_the_answer_would_stand(
    page: Page, plants: str, words: str
) -> None:
    page.get_by_label("Plants", exact=True).fill(plants)
    page.get_by_role("button", name="Work out the plan").click()
    expect(page.get_by_role("alert")).to_contain_text(words)
    expect(page.locator("#status")).to_have_text("No answer.")


def test_a_hostile_label_does_nothing(page: Page) -> None:
    fill(page, '<img src=x onerror="window.harmed=1"><script>window.harmed=1</script> iris')
    page.get_by_role("button", name="Check the law, line by line").click()
    expect(page.locator("#answer tbody tr")).to_have_count(1)
    page.get_by_role("button", name="Work out the plan").click()
    expect(page.locator("#answer")).to_contain_text("Decide these first")
    assert page.evaluate("window.harmed") is None
