"""``reedgate plan`` and ``reedgate community``: what they print, what they write, how they end."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.cli.main import main
from tests.service.demo_stores import COMMUNITY, PLAN, demo_path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(
        main, [*arguments, "--store", str(demo_path())], catch_exceptions=False
    )


def words(result: Result) -> str:
    return " ".join(result.output.split())


def test_a_plan_prints_site_decisions_list_and_whom_to_ask() -> None:
    result = run("plan", str(PLAN))
    assert result.exit_code == 0
    for expected in (
        "Fulton County",
        "Michigan",
        "Decide first",
        "Shopping list",
        "Held back",
        "Instead:",
        "Confirm with",
        "not legal advice",
    ):
        assert expected in words(result), expected


def test_a_plan_is_written_in_the_form_that_the_ending_names(tmp_path: Path) -> None:
    begins = {
        ".json": "{",
        ".html": "<!doctype html>",
        ".geojson": '{"type":"FeatureCollection"',
        ".csv": "label,",
    }
    for ending, start in begins.items():
        out = tmp_path / f"answer{ending}"
        result = run("plan", str(PLAN), "--out", str(out))
        assert result.exit_code == 0
        assert f"written to {out.name}" in words(result)
        assert out.read_text(encoding="utf-8").startswith(start)
    assert run("plan", str(PLAN), "--out", str(tmp_path / "answer.pdf.txt")).exit_code == 2


def test_the_table_that_was_written_is_read_again(tmp_path: Path) -> None:
    first, second = tmp_path / "first.csv", tmp_path / "second.csv"
    run("plan", str(PLAN), "--out", str(first))
    assert run("plan", str(first), "--out", str(second)).exit_code == 0
    assert second.read_bytes() == first.read_bytes()


def test_a_table_takes_the_site_from_the_options(tmp_path: Path) -> None:
    table = tmp_path / "plants.csv"
    table.write_text("plant,count,place,place_kind\nIris versicolor,3,Bog,bog\n", encoding="utf-8")
    out = tmp_path / "answer.json"
    result = run(
        "plan",
        str(table),
        "--state",
        "US-OH",
        "--county",
        "Fulton",
        "--zip",
        "43594",
        "--on",
        "2026-06-01",
        "--out",
        str(out),
    )
    assert result.exit_code == 0
    answer = json.loads(out.read_text(encoding="utf-8"))
    assert (answer["site"]["county"], answer["as_of"], answer["site"]["hardiness_zones"]) == (
        "39051",
        "2026-06-01",
        ["6a"],
    )


def test_explaining_prints_what_the_escape_hangs_on(tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    document = {
        "site": {"zip": "43594"},
        "places": [{"name": "Pond", "kind": "pond"}],
        "plantings": ["Iris pseudacorus"],
    }
    plan.write_text(json.dumps(document), encoding="utf-8")
    assert "hangs on" in words(run("plan", str(plan), "--explain"))
    assert "hangs on" not in words(run("plan", str(plan)))


def test_what_could_not_be_read_is_named_and_the_rest_answered(tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    plan.write_text(
        '{"site": {"state": "US-OH"}, "plantings": [{"label": "Iris", "cuont": 1}, "Typha latifolia"]}',
        encoding="utf-8",
    )
    result = run("plan", str(plan))
    assert result.exit_code == 0
    assert "/plantings/0/cuont" in words(result)


@pytest.mark.parametrize(
    "content", ["{", '{"plantings": ["Iris"]}', '{"site": {}, "plantings": []}']
)
def test_a_plan_that_cannot_be_answered_ends_with_1_and_one_plain_message(
    tmp_path: Path, content: str
) -> None:
    plan = tmp_path / "plan.json"
    plan.write_text(content, encoding="utf-8")
    for command in ("plan", "community"):
        result = run(command, str(plan))
        assert result.exit_code == 1
        assert "plan.json" in result.output
        assert "Traceback" not in result.output
    assert run("plan", str(tmp_path / "missing.json")).exit_code == 1


def test_a_community_prints_order_and_waters_and_writes_each_form(tmp_path: Path) -> None:
    result = run("community", str(COMMUNITY))
    assert result.exit_code == 0
    for expected in (
        "In which order to see to the sites",
        "What could come to which water",
        "Ferrow River",
        "not legal advice",
    ):
        assert expected in words(result), expected
    for ending, start in {
        ".geojson": '{"type":"FeatureCollection"',
        ".csv": "site,",
        ".json": "{",
        ".html": "<!doctype html>",
    }.items():
        out = tmp_path / f"answer{ending}"
        assert run("community", str(COMMUNITY), "--out", str(out)).exit_code == 0
        assert out.read_text(encoding="utf-8").startswith(start)
