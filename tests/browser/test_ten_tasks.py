"""Ten tasks that people bring, done on the page: presses and entries are counted and compared with
the table in ``docs/USABILITY.md``.

A press is a click or a choice from a list; an entry is a text typed or pasted, or a file opened.
"""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.service.demo_stores import COMMUNITY, PLAN

TABLE = Path(__file__).parents[2] / "docs" / "USABILITY.md"
LIST = "Yellow flag iris\nIris versicolor\nWater hyacinth\nWater celery, varieg. 4in"


class Hand:
    """Uses the page and counts."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.presses = self.entries = 0

    def press(self, name: str, *, exact: bool = False) -> None:
        self.page.get_by_role("button", name=name, exact=exact).first.click()
        self.presses += 1

    def follow(self, name: str) -> None:
        self.page.get_by_role("link", name=name).first.click()
        self.presses += 1

    def choose(self, selector: str, value: str) -> None:
        self.page.locator(selector).select_option(value)
        self.presses += 1

    def write(self, label: str, text: str, *, enter: bool = False) -> None:
        field = self.page.get_by_label(label, exact=True)
        field.fill(text)
        if enter:
            field.press("Enter")
        self.entries += 1

    def open(self, label: str, path: Path) -> None:
        self.page.get_by_label(label).set_input_files(path)
        self.entries += 1


def answered_list(hand: Hand, *states: str) -> None:
    hand.page.goto("/list")
    hand.write("Plants", LIST)
    for state in states:
        hand.choose("#add-place", state)
    hand.press("Check the law, line by line")
    expect(hand.page.locator("#status")).to_contain_text("4 lines answered")


def ship_to_oregon(hand: Hand) -> None:
    answered_list(hand, "US-OR")
    expect(hand.page.locator("#lines")).to_contain_text("Oregon")


def three_states(hand: Hand) -> None:
    answered_list(hand, "US-WI", "US-MN", "US-FL")
    expect(hand.page.locator("#lines thead th")).to_have_count(7)


def only_what_is_held_back(hand: Hand) -> None:
    answered_list(hand, "US-OH")
    hand.press("hold back")
    expect(hand.page.locator("#lines tr[data-line]").first).to_have_class("is-hold")


def why_and_whom_to_ask(hand: Hand) -> None:
    answered_list(hand, "US-OH")
    hand.press("Why and whom to ask about Yellow flag iris")
    expect(hand.page.locator("tr.reasons:not([hidden])")).to_contain_text("Confirm with")


def as_a_workbook(hand: Hand) -> None:
    answered_list(hand, "US-OH")
    with hand.page.expect_download() as download:
        hand.press("Excel")
    assert download.value.suggested_filename == "answered.xlsx"


def one_plant_one_state(hand: Hand) -> None:
    hand.page.goto("/")
    hand.write("Plant", "Water hyacinth 4in")
    hand.choose("#start-in", "US-WI")
    hand.press("Look it up")
    expect(hand.page.locator("#found")).to_contain_text("Confirm with")


def what_instead(hand: Hand) -> None:
    hand.page.goto("/place")
    hand.choose("select[name=state]", "US-OH")
    hand.press("Add a pond, stream or bog")
    hand.write("Add a plant, as it stands on the tag", "Yellow flag iris", enter=True)
    expect(hand.page.locator(".instead, .card-plant .hint").first).to_be_visible()


def a_plan_as_a_report(hand: Hand) -> None:
    hand.page.goto("/place")
    hand.open("Open a plan", PLAN)
    expect(hand.page.locator("#status")).to_contain_text("Worked out for 12 plantings")
    with hand.page.context.expect_page() as opened:
        hand.press("Open the report to print")
    expect(opened.value.locator("h1")).to_be_visible()


def which_site_first(hand: Hand) -> None:
    hand.page.goto("/sites")
    hand.open("A file of sites", COMMUNITY)
    expect(hand.page.locator("#sites-table tbody tr")).to_have_count(12)


def what_changed_since_last_week(hand: Hand) -> None:
    answered_list(hand, "US-OH")
    hand.page.get_by_label("Keep it in this browser as").fill("Week 22")
    hand.page.get_by_role("button", name="Keep", exact=True).click()
    hand.page.goto("/")
    hand.presses = hand.entries = 0
    hand.follow("Week 22")
    expect(hand.page.locator("#changed")).to_contain_text("Nothing changed since")


TASKS: dict[str, Callable[[Hand], None]] = {
    "Which of these may I ship to Oregon?": ship_to_oregon,
    "What do three states say of this list?": three_states,
    "Which lines must I hold back?": only_what_is_held_back,
    "Why is this line held back, and whom do I ask?": why_and_whom_to_ask,
    "The answered list as a workbook": as_a_workbook,
    "What does Wisconsin say of this plant?": one_plant_one_state,
    "What instead of yellow flag here?": what_instead,
    "A plan as a report to print": a_plan_as_a_report,
    "Which of our sites comes first?": which_site_first,
    "What changed since last week?": what_changed_since_last_week,
}


def documented() -> dict[str, tuple[int, int]]:
    """Presses and entries after, by task, as the table has them."""
    rows = re.findall(
        r"^\| \d+ \| (.+?) \| .*? \| (\d+) and (\d+) \|", TABLE.read_text(encoding="utf-8"), re.M
    )
    return {task: (int(presses), int(entries)) for task, presses, entries in rows}


@pytest.mark.parametrize("task", TASKS)
def test_a_task_takes_as_many_presses_and_entries_as_documented(page: Page, task: str) -> None:
    hand = Hand(page)
    TASKS[task](hand)
    assert (hand.presses, hand.entries) == documented()[task]


def test_every_task_of_the_table_is_tried() -> None:
    assert list(documented()) == list(TASKS)
