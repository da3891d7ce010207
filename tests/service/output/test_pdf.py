"""Printing: a clear error where no browser is installed or it fails, and nothing left behind."""

import os
import random
from pathlib import Path

import pytest
from click.testing import CliRunner

from service.cli.main import main
from service.output.html.report import report_of
from service.output.pdf import NoPrinter, find_printer, print_pdf
from tests.benchmarks.bench_plan import plan_document
from tests.service.demo_stores import PLAN, demo_library, demo_path
from tests.service.output.plans import answer_of, demo_report


def test_without_a_browser_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("REEDGATE_CHROMIUM", raising=False)
    assert find_printer() is None
    with pytest.raises(NoPrinter, match="No Chromium is installed") as caught:
        print_pdf("<p>", tmp_path / "plan.pdf")
    assert ".html" in caught.value.next_step
    assert list(tmp_path.iterdir()) == []


def test_the_command_says_so_before_it_works_anything_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("REEDGATE_CHROMIUM", "no-such-browser")
    answered = CliRunner().invoke(
        main, ["plan", str(PLAN), "--out", str(tmp_path / "plan.pdf"), "--store", str(demo_path())]
    )
    assert answered.exit_code == 1
    assert "No Chromium is installed" in answered.output
    assert list(tmp_path.iterdir()) == []


def test_a_browser_that_fails_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = tmp_path / "broken"
    broken.write_text("#!/bin/sh\necho no display >&2\nexit 1\n", encoding="utf-8")
    broken.chmod(0o755)
    monkeypatch.setenv("REEDGATE_CHROMIUM", str(broken))
    out = tmp_path / "plan.pdf"
    out.write_bytes(b"earlier")
    with pytest.raises(NoPrinter, match="broken made no PDF: no display"):
        print_pdf("<p>", out)
    assert out.read_bytes() == b"earlier"


printed = pytest.mark.skipif(
    find_printer() is None or os.environ.get("REEDGATE_NO_BROWSER") == "1",
    reason="no Chromium is installed",
)


@printed
def test_a_report_becomes_a_tagged_pdf_of_several_pages(tmp_path: Path) -> None:
    out = tmp_path / "plan.pdf"
    print_pdf(demo_report(), out)
    content = out.read_bytes()
    assert content.startswith(b"%PDF-")
    assert b"/MarkInfo" in content
    assert content.count(b"/Type /Page\n") > 8
    assert [path.name for path in tmp_path.iterdir()] == ["plan.pdf"]


def pages(plantings: int, seed: int, out: Path, *, brief: bool) -> int:
    """Of the report on drawn plantings."""
    document = plan_document(demo_library(), random.Random(seed), plantings)
    print_pdf(report_of(demo_library(), answer_of(document), brief=brief), out)
    return out.read_bytes().count(b"/Type /Page\n")


@printed
@pytest.mark.parametrize("seed", [1, 3])
def test_twelve_plantings_take_at_most_twelve_pages(tmp_path: Path, seed: int) -> None:
    assert pages(12, seed, tmp_path / "plan.pdf", brief=False) <= 12


@printed
@pytest.mark.parametrize("plantings", [12, 40])
def test_the_client_s_part_takes_two_pages(tmp_path: Path, plantings: int) -> None:
    for seed in (1, 4):
        assert pages(plantings, seed, tmp_path / "plan.pdf", brief=True) == 2
