"""axe-core finds nothing to object to, on any page in any state, wide and narrow."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from service.checks.community.screening import screen_community
from service.input.community import read_community
from service.input.json_document import parse_json
from service.output.html.report import community_report, plan_report
from tests.service.demo_stores import COMMUNITY, demo_library
from tests.service.output.plans import ON, answer_of, demo_report

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
_AUDIT = """async (tags) => {
    // Shapes on the map are looked at for all but their size: the lists beside it do the same (WCAG 2.2, 2.5.8, equivalent).
    const rest = await axe.run(document, { runOnly: { type: "tag", values: tags }, rules: { "target-size": { enabled: false } } });
    const size = await axe.run({ exclude: [".leaflet-container"] }, { runOnly: { type: "rule", values: ["target-size"] } });
    const found = ({ id, nodes }) => nodes.map((node) => `${id}: ${node.target} ${node.failureSummary}`);
    return { passed: rest.passes.length, violations: [...rest.violations, ...size.violations].flatMap(found) };
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
        found += [f"{width} px: {violation}" for violation in violations(page)]
    return found


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/plant?label=Water+hyacinth&in=US-WI&also=OH&act=sell&act=plant",
        "/list",
        "/place",
        "/sites",
        "/law",
        "/law/us-wi-nr40",
        "/plant?label=iris&in=US-XX",
    ],
)
def test_a_room_has_no_violation(audited: Page, path: str, scheme: Any) -> None:
    audited.emulate_media(color_scheme=scheme)
    audited.goto(path)
    audited.evaluate("document.querySelectorAll('details').forEach((part) => (part.open = true))")
    assert violations_at_both_widths(audited) == []


def test_an_answered_list_has_no_violation(audited: Page) -> None:
    audited.goto("/list")
    audited.get_by_label("Plants", exact=True).fill(
        "Water hyacinth\nYellow flag iris\nWater celery, varieg. 4in\na plant nobody knows"
    )
    audited.locator("#add-place").select_option("US-OH")
    audited.get_by_role("button", name="Check the law, line by line").click()
    expect(audited.locator("#status")).to_contain_text("4 lines answered")
    audited.get_by_role("button", name="Show every reason").click()
    expect(audited.locator("tr.reasons").last).to_contain_text("Confirm with")
    assert violations_at_both_widths(audited) == []


def test_an_answered_place_has_no_violation(audited: Page) -> None:
    audited.goto("/place?example=1")
    expect(audited.locator("#status")).to_contain_text("Worked out for 12 plantings")
    assert violations_at_both_widths(audited) == []


def test_screened_sites_have_no_violation(audited: Page) -> None:
    audited.goto("/sites")
    audited.get_by_role("button", name="Try the example").click()
    expect(audited.locator("#status")).to_contain_text("12 sites screened")
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
    audited.goto("/list")
    audited.evaluate("document.querySelector('label[for=plants]').remove()")
    assert any(violation.startswith("label:") for violation in violations(audited))
