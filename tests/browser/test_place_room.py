"""The place room: drawn or typed, planted, answered as one types, printed; and many sites."""

import json
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.service.demo_stores import COMMUNITY, PLAN


def example(page: Page) -> None:
    page.goto("/place?example=1")
    expect(page.locator("#status")).to_contain_text("Worked out for 12 plantings")


def test_a_plan_falls_into_groups_with_what_stands_against_each(either: Page) -> None:
    example(either)
    groups = either.locator("#groups section h3")
    assert "Hold back" in groups.first.inner_text()
    flag = either.locator(".card-plant", has_text="Yellow flag iris")
    expect(flag).to_contain_text("Prohibited")
    expect(flag.locator(".verdict")).to_have_text("Hold back")
    assert either.evaluate("document.documentElement.scrollWidth") <= either.viewport_size["width"]  # type: ignore[index]


def test_the_report_opens_in_a_tab_of_its_own_with_its_style(page: Page) -> None:
    example(page)
    with page.context.expect_page() as opened:
        page.get_by_role("button", name="Open the report to print").click()
    report = opened.value
    expect(report.locator("h1")).to_be_visible()
    colour = report.evaluate("getComputedStyle(document.querySelector('h2')).fontFamily")
    assert "Times" not in colour


def test_a_pond_is_drawn_with_the_keyboard_and_counts(page: Page) -> None:
    page.goto("/place")
    page.get_by_label("Longitude, latitude").fill("-84.2921, 41.6832")
    page.get_by_role("button", name="Add a pond, stream or bog").click()
    page.get_by_role("button", name="Draw it on the map").click()
    corner = page.get_by_role("button", name="Put a corner in the middle of the map")
    expect(corner).to_be_focused()
    for key in ("ArrowRight", "ArrowDown", "ArrowLeft"):
        corner.click()
        page.locator("#map").focus()
        page.keyboard.press(key)
        page.wait_for_timeout(400)
    page.get_by_role("button", name="Finish").click()
    expect(page.locator("#places output")).to_contain_text("m²")
    page.get_by_label("Add a plant").fill("Iris versicolor")
    page.get_by_label("Add a plant").press("Enter")
    expect(page.locator("#status")).to_contain_text("Worked out for 1 planting")
    with page.expect_download() as download:
        page.get_by_role("button", name="the plan", exact=True).click()
    document = json.loads(Path(download.value.path()).read_text(encoding="utf-8"))
    ring = document["places"][0]["geometry"]["coordinates"][0]
    assert len(ring) == 4
    assert ring[0] == ring[-1]
    assert document["plantings"] == [{"label": "Iris versicolor", "place": "Pond"}]


def test_a_pond_is_drawn_by_pressing_the_map_and_an_outlet_marked(page: Page) -> None:
    page.goto("/place")
    page.get_by_role("button", name="Add a pond, stream or bog").click()
    page.get_by_role("button", name="Draw it on the map").click()
    for x, y in ((100, 100), (200, 110), (180, 200)):
        page.locator("#map").click(position={"x": x, "y": y})
    page.get_by_role("button", name="Finish").click()
    page.get_by_role("button", name="Mark the outlet").click()
    page.locator("#map").click(position={"x": 150, "y": 120})
    expect(page.get_by_role("button", name="Move the outlet")).to_be_visible()
    expect(page.locator("#places details select").first).to_have_value("true")


def test_a_water_is_given_by_distance_and_changes_the_answer(page: Page) -> None:
    page.goto("/place?in=US-OH&label=Butomus+umbellatus")
    expect(page.locator("#status")).to_contain_text("Worked out")
    page.get_by_role("button", name="Add a water").click()
    name = page.locator("#waters input").first
    name.fill("Alder Creek")
    name.press("Tab")
    expect(page.locator("#site-answer")).to_contain_text("Alder Creek")


def test_depths_are_taken_in_inches(page: Page) -> None:
    example(page)
    page.locator("#unit").select_option("in")
    depth = page.locator(
        ".card-plant", has=page.get_by_text("Pontederia cordata 1 gal")
    ).get_by_label("Water over the crown")
    depth.fill("4")
    depth.press("Tab")
    expect(depth).to_have_value("4 in")
    expect(page.locator("#problems li")).to_have_count(0)


def test_a_plan_in_a_file_is_opened_changed_and_kept(page: Page) -> None:
    page.goto("/place")
    page.get_by_label("Open a plan").set_input_files(PLAN)
    expect(page.locator("#status")).to_contain_text("Worked out for 12 plantings")
    page.get_by_role("button", name="Take out Yellow flag iris").click()
    expect(page.locator("#status")).to_contain_text("Worked out for 11 plantings")
    page.get_by_role("button", name="Keep in this browser").click()
    page.goto("/")
    page.locator(".kept a").first.click()
    expect(page.locator("#changed")).to_contain_text("Nothing changed since")


def test_sites_are_shown_on_a_map_and_in_order(either: Page) -> None:
    either.goto("/sites")
    either.get_by_label("A file of sites").set_input_files(COMMUNITY)
    expect(either.locator("#status")).to_contain_text("12 sites screened")
    rows = either.locator("#sites-table tbody tr")
    expect(rows).to_have_count(12)
    assert rows.first.locator("td").first.inner_text() == "1"
    with either.expect_download() as download:
        either.get_by_role("button", name="GeoJSON").click()
    features = json.loads(Path(download.value.path()).read_text(encoding="utf-8"))["features"]
    assert len(features) >= 12
    with either.context.expect_page() as opened:
        either.get_by_role("button", name="Open the summary to print").click()
    expect(opened.value.locator("h1")).to_be_visible()


def test_sites_come_out_of_a_geopackage(page: Page, tmp_path: Path) -> None:
    import pyogrio

    written = tmp_path / "sites.gpkg"
    names = ["Mill pond", "Alder bog"]
    import numpy as np
    import shapely

    points = shapely.to_wkb(shapely.points([(-84.29, 41.68), (-84.2, 41.6)]))
    columns = [
        np.array(names, dtype=object),
        np.array(["Iris versicolor;Yellow flag iris", '["Typha latifolia"]'], dtype=object),
        np.array(["pond", "bog"], dtype=object),
    ]
    pyogrio.raw.write(
        written,
        np.array(points, dtype=object),
        columns,
        ["name", "plantings", "place_kind"],
        layer="sites",
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:4326",
    )
    page.goto("/sites")
    page.get_by_label("A file of sites").set_input_files(written)
    expect(page.locator("#status")).to_contain_text("2 sites screened")
    expect(page.locator("#sites-table")).to_contain_text("Mill pond")
