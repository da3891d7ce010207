"""axe-core finds nothing to object to, on any page in any state, wide and narrow."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from service.checks.community.screening import screen_community
from service.input.community import read_community
from service.input.json_document import parse_json
from service.output.html.community_report import community_report
from service.output.html.report import plan_report
from tests.service.demo_stores import COMMUNITY, PLAN, demo_library
from tests.service.output.plans import ON, answer_of, demo_report

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
_AUDIT = """async (tags) => {
    // Links of the map are looked at for all but their size: the lists beside it do the same (WCAG 2.2, 2.5.8, equivalent).
    const rest = await axe.run(document, { runOnly: { type: "tag", values: tags }, rules: { "target-size": { enabled: false } } });
    const size = await axe.run({ exclude: [".picker"] }, { runOnly: { type: "rule", values: ["target-size"] } });
    const told = ({ id, nodes }) => nodes.map((node) => `${id}: ${node.target} ${node.failureSummary}`);
    return { passed: rest.passes.length, violations: [...rest.violations, ...size.violations].flatMap(told) };
}"""


def violations(page: Page) -> list[str]:
    found: dict[str, Any] = page.evaluate(_AUDIT, TAGS)
    assert found["passed"] > 10, "axe looked at next to nothing"
    violations: list[str] = found["violations"]
    return violations


def violations_at_both_widths(page: Page) -> list[str]:
    found = []
    for width in (320, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        found += [f"{width} px: {each}" for each in violations(page)]
    return found


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/?label=Water+hyacinth&in=US-WI&act=sell&act=plant",
        "/?state=US-OH",
        "/?state=US-OH&county=39051",
        "/coverage",
        "/?label=iris&in=US-XX",
    ],
)
def test_a_page_has_no_violation(audited: Page, path: str) -> None:
    audited.goto(path)
    audited.evaluate("document.querySelectorAll('details').forEach((each) => (each.open = true))")
    assert violations_at_both_widths(audited) == []


def test_an_answered_list_and_plan_have_no_violation(audited: Page) -> None:
    audited.goto("/")
    audited.get_by_label("Plants", exact=True).fill(
        "Water hyacinth\nYellow flag iris\nWater celery, varieg. 4in\na plant nobody knows"
    )
    audited.locator("#state").select_option("US-OH")
    audited.get_by_role("button", name="Check the law, line by line").click()
    expect(audited.locator("#status")).to_have_text("Done.")
    audited.evaluate(
        "document.querySelectorAll('#answer details').forEach((each) => (each.open = true))"
    )
    assert violations_at_both_widths(audited) == []
    audited.get_by_label("Plants", exact=True).fill(PLAN.read_text(encoding="utf-8"))
    audited.get_by_role("button", name="Work out the plan").click()
    expect(audited.locator("#answer")).to_contain_text("Decide these first")
    assert violations_at_both_widths(audited) == []


@pytest.mark.parametrize("name", ["demo", "bare", "community"])
def test_a_report_has_no_violation(audited: Page, tmp_path: Path, name: str) -> None:
    path = tmp_path / "report.html"
    reports: dict[str, Callable[[], str]] = {
        "demo": demo_report,
        "bare": _bare_report,
        "community": _community_report,
    }
    path.write_text(reports[name](), encoding="utf-8")
    audited.goto(path.as_uri())
    assert violations_at_both_widths(audited) == []


def _bare_report() -> str:
    return plan_report(
        answer_of(
            {
                "site": {"state": "US-OH"},
                "plantings": ["Yellow flag iris", "a plant nobody knows"],
                "misspelt": 1,
            }
        )
    )


def _community_report() -> str:
    community = read_community(parse_json(COMMUNITY.read_bytes()))
    return community_report(screen_community(demo_library(), community, on=ON))


def test_axe_would_find_a_fault(audited: Page) -> None:
    audited.goto("/")
    audited.evaluate("document.querySelector('label[for=plants]').remove()")
    assert any(each.startswith("label:") for each in violations(audited))
