"""The list room: from a pasted or opened list to what to hold back, kept and saved."""

import csv
import io
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from playwright.sync_api import Page, expect

LIST = (
    "Eichhornia crassipes (Water Hyacinth) bunch\nYellow flag iris\n"
    "Pickerel rush, blue\nIris versicolor\nWater celery, varieg. 4in\n"
)


def check(page: Page, plants: str = LIST, *states: str) -> None:
    page.goto("/list")
    page.get_by_label("Plants", exact=True).fill(plants)
    for state in states or ("US-WI", "US-OH"):
        page.locator("#add-place").select_option(state)
    page.get_by_role("button", name="Check the law, line by line").click()
    expect(page.locator("#status")).to_contain_text("answered")


def open_list(page: Page, labels: list[str]) -> None:
    content = "\n".join(["label", *labels]).encode()
    page.goto("/list")
    page.get_by_label("Open a file").set_input_files(
        {"name": "long.csv", "mimeType": "text/csv", "buffer": content}
    )


def lines(page: Page) -> int:
    return page.locator("#lines tbody tr[data-line]").count()


def test_selling_is_asked_unless_somebody_says_otherwise(page: Page) -> None:
    page.goto("/list")
    ticked = page.locator("input[name=act]:checked")
    expect(ticked).to_have_count(1)
    expect(ticked).to_have_value("sell")


def test_the_most_urgent_lines_come_first_and_are_counted(either: Page) -> None:
    check(either)
    first = either.locator("#lines tbody tr[data-line]").first
    expect(first).to_have_class("is-hold")
    counted = [int(text) for text in either.locator("#filters b").all_inner_texts()]
    assert counted[0] == 5 == sum(counted[1:])
    assert counted[1] >= 2
    either.get_by_role("button", name="hold back").click()
    assert lines(either) == counted[1]
    either.get_by_role("button", name="all lines").click()
    either.get_by_label("Find").fill("versicolor")
    assert lines(either) == 1


def test_why_shows_the_source_and_whom_to_ask_for_one_line_or_all(page: Page) -> None:
    check(page)
    page.get_by_role("button", name="Why and whom to ask about Yellow flag iris").click()
    reasons = page.locator("tr.reasons:not([hidden])")
    expect(reasons).to_contain_text("Confirm with")
    expect(reasons).to_contain_text("Ohio Admin. Code")
    page.get_by_role("button", name="Show every reason").click()
    expect(page.locator("tr.reasons:not([hidden])")).to_have_count(5)
    expect(page.locator("tr.reasons").last).to_contain_text("Confirm with")
    page.get_by_role("button", name="Hide every reason").click()
    expect(page.locator("tr.reasons:not([hidden])")).to_have_count(0)


def test_a_name_chosen_by_hand_is_in_the_download(page: Page) -> None:
    check(page)
    page.get_by_role("button", name="Why and whom to ask about Water celery").click()
    page.get_by_role("button", name="It is Vallisneria americana").click()
    line = page.locator("#lines tr[data-line='5']")
    expect(line).to_contain_text("as you said")
    with page.expect_download() as download:
        page.get_by_role("button", name="CSV", exact=True).click()
    text = Path(download.value.path()).read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert rows[4]["label"] == "Water celery, varieg. 4in"
    assert rows[4]["accepted_name"] == "Vallisneria americana"
    assert rows[4]["confirmed"] == "yes"


def test_a_workbook_goes_in_and_comes_out(page: Page, tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Spring list (invented)"])
    sheet.append(["SKU", "Botanical Name", "Price"])
    sheet.append(["W-12", "Iris pseudacorus", 7.5])
    sheet.append(["W-13", "Iris versicolor", 8])
    book.save(tmp_path / "spring.xlsx")
    page.goto("/list")
    page.get_by_label("Open a file").set_input_files(tmp_path / "spring.xlsx")
    expect(page.locator("#file-name")).to_have_text("spring.xlsx")
    page.locator("#add-place").select_option("US-OH")
    page.get_by_role("button", name="Check the law, line by line").click()
    expect(page.locator("#status")).to_contain_text("2 lines answered")
    with page.expect_download() as download:
        page.get_by_role("button", name="Excel").click()
    answered = load_workbook(io.BytesIO(Path(download.value.path()).read_bytes()))
    cells = [str(cell.value) for row in answered.worksheets[0].iter_rows() for cell in row]
    assert "W-13" in cells
    assert "prohibited" in cells


def test_every_state_is_chosen_at_once_and_a_shipment_is_answered(page: Page) -> None:
    page.goto("/list")
    page.get_by_label("Plants", exact=True).fill("Yellow flag iris")
    page.locator("#add-place").select_option("all")
    page.locator("#from").select_option("US-KY")
    page.get_by_role("button", name="Check the law, line by line").click()
    expect(page.locator("#status")).to_contain_text("answered")
    expect(page.locator("#lines thead th")).to_have_count(4 + 51 * 2)
    page.get_by_role("button", name="Take all out").click()
    expect(page.locator("#places li")).to_have_count(0)


def test_ten_thousand_lines_stay_usable(page: Page) -> None:
    names = ["Iris versicolor", "Yellow flag iris", "Pontederia cordata", "Water lettuce"]
    open_list(page, [f"{names[at % 4]} lot {at}" for at in range(10_000)])
    page.locator("#add-place").select_option("US-OH")
    page.get_by_role("button", name="Check the law, line by line").click()
    expect(page.locator("#status")).to_contain_text("10,000 lines answered")
    assert lines(page) < 400
    box = page.locator("#lines")
    box.evaluate("(box) => box.scrollTo(0, box.scrollHeight)")
    expect(page.locator("#lines tr[aria-rowindex='10001']")).to_be_visible()
    assert lines(page) < 600
    page.get_by_label("Find").fill("lot 9998")
    assert lines(page) == 1


def test_a_list_is_kept_opened_again_and_compared(page: Page) -> None:
    check(page)
    page.get_by_label("Keep it in this browser as").fill("Spring order")
    page.get_by_role("button", name="Keep", exact=True).click()
    page.goto("/")
    page.get_by_role("link", name="Spring order").click()
    expect(page.locator("#changed")).to_contain_text("Nothing changed since")
    page.goto("/")
    with page.expect_download() as download:
        page.get_by_role("button", name="Save all kept work").click()
    path = Path(download.value.path())
    page.get_by_role("button", name="Delete Spring order").click()
    expect(page.get_by_role("link", name="Spring order")).to_have_count(0)
    changed = path.read_text(encoding="utf-8").replace(
        "Wisconsin No entry found", "Wisconsin Other"
    )
    page.get_by_label("Take in a file of kept work").set_input_files(
        {"name": "kept.json", "mimeType": "application/json", "buffer": changed.encode()}
    )
    page.get_by_role("link", name="Spring order").click()
    expect(page.locator("#changed")).to_contain_text("What changed since")
    expect(page.locator("#changed")).to_contain_text("now")


def test_long_work_is_stopped(page: Page) -> None:
    open_list(page, [f"Iris versicolor lot {at}" for at in range(30_000)])
    page.locator("#add-place").select_option("all")
    page.get_by_role("button", name="Check the law, line by line").click()
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("#status")).to_contain_text("Stopped")


@pytest.mark.parametrize(
    ("plants", "state", "said"),
    [("", "US-OH", "No plant is given"), ("Iris", "", "Choose at least one state")],
)
def test_what_is_missing_is_said_with_what_to_do(
    page: Page, plants: str, state: str, said: str
) -> None:
    page.goto("/list")
    page.get_by_label("Plants", exact=True).fill(plants)
    if state:
        page.locator("#add-place").select_option(state)
    page.get_by_role("button", name="Check the law, line by line").click()
    expect(page.locator("#status")).to_contain_text(said)


def test_hostile_labels_stay_text(page: Page) -> None:
    check(page, "<img src=x onerror=alert(1)> iris\n\u202eiris \u2067mirrored\n", "US-OH")
    expect(page.locator("#lines img")).to_have_count(0)
    assert page.locator("#lines th bdi").count() == 2


def test_everything_goes_by_keyboard_alone(page: Page) -> None:
    page.goto("/list")

    def tab_to(selector: str) -> None:
        for _ in range(120):
            page.keyboard.press("Tab")
            if page.evaluate("(s) => document.activeElement?.matches(s) ?? false", selector):
                return
        raise AssertionError(f"{selector} is not reached by Tab")

    tab_to("#plants")
    page.keyboard.type("Yellow flag iris")
    tab_to("#add-place")
    page.keyboard.type("Ohio")
    expect(page.locator("#places li")).to_have_count(1)
    tab_to("button[type=submit]")
    page.keyboard.press("Enter")
    expect(page.locator("#answer-title")).to_be_focused()
    tab_to("#lines button")
    page.keyboard.press("Enter")
    expect(page.locator("tr.reasons:not([hidden])")).to_contain_text("Confirm with")
