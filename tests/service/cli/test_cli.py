"""The command line: what it prints, what it writes, how it ends."""

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.cli.main import main


def run(*arguments: str, store: Path | None = None) -> Result:
    environment = {"REEDGATE_STORE": str(store)} if store else {}
    return CliRunner().invoke(main, list(arguments), env=environment, catch_exceptions=False)


def test_status_prints_finding_source_and_authority(reference_path: Path) -> None:
    result = run("status", "Water hyacinth 4in", "--in", "US-WI", "--store", str(reference_path))
    assert result.exit_code == 0
    for words in (
        "Pontederia crassipes",
        "permit-required",
        "NR 40.04",
        "Wisconsin Department of Natural Resources",
        "not legal advice",
    ):
        assert words in " ".join(result.output.split())


def test_status_as_json_has_the_fields_of_the_contract(reference_path: Path) -> None:
    result = run(
        "status",
        "Trapa natans",
        "--in",
        "WI",
        "--act",
        "sell",
        "--act",
        "possess",
        "--on",
        "2026-06-01",
        "--json",
        "--store",
        str(reference_path),
    )
    answer = json.loads(result.output)
    assert {"store_build", "as_of", "cautions", "name", "findings"} <= set(answer)
    finding = answer["findings"][0]
    assert {
        "outcome",
        "act",
        "jurisdiction",
        "coverage",
        "verified",
        "reasons",
        "confirm_with",
        "citations",
    } <= set(finding)
    assert {
        "list_id", "jurisdiction", "title", "citation", "authority", "class", "name_as_listed", "exceptions", "condition", "effective_from",
        "url", "how_known",
    } <= set(finding["citations"][0])  # fmt: skip
    assert [finding["act"] for finding in answer["findings"]] == ["sell", "possess"]


def test_a_county_decides(reference_path: Path) -> None:
    result = run(
        "status",
        "Glyceria maxima",
        "--in",
        "US-WI",
        "--county",
        "Dane",
        "--store",
        str(reference_path),
    )
    assert "as Restricted" in " ".join(result.output.split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("status", "x", "--in", "US-ZZ"), "Jurisdiction 'US-ZZ' is not known"),
        (("status", "x", "--in", "US-WI", "--act", "hawk"), "'hawk' is not one of"),
        (("status", "x", "--in", "US-WI", "--on", "soon"), "'soon' is not a valid day"),
        (("status", "x", "--in", "US-WI", "--county", "Nowhere"), "'Nowhere' is not known"),
        (("stock", "x.csv"), "Missing option '--to'"),
        (("stock", "x.csv", "--to", "US-WI", "--out", "x.pdf"), "ends in .csv, .json or .xlsx"),
    ],
)
def test_wrong_usage_ends_with_2_and_says_what_is_wrong(
    reference_path: Path, arguments: tuple[str, ...], words: str
) -> None:
    result = run(*arguments, store=reference_path)
    assert result.exit_code == 2
    assert words in result.output


def test_a_missing_store_or_file_ends_with_1(tmp_path: Path, reference_path: Path) -> None:
    missing = run("status", "x", "--in", "US-WI", "--store", str(tmp_path / "none.db"))
    assert missing.exit_code == 1
    assert "reedgate load reference" in missing.output
    nofile = run(
        "stock", str(tmp_path / "none.csv"), "--to", "US-WI", "--store", str(reference_path)
    )
    assert nofile.exit_code == 1
    assert "none.csv" in nofile.output


@pytest.mark.parametrize("suffix", ["csv", "json"])
def test_stock_writes_every_line(tmp_path: Path, reference_path: Path, suffix: str) -> None:
    out = tmp_path / f"answer.{suffix}"
    result = run(
        "stock",
        "demo_data/stock/marl_hollow_autumn.csv",
        "--to",
        "US-WI,US-TX",
        "--from",
        "US-MN",
        "--out",
        str(out),
        "--store",
        str(reference_path),
    )
    assert result.exit_code == 0
    assert "12 lines answered" in result.output
    if suffix == "csv":
        text = out.read_text(encoding="utf-8-sig")
        rows = list(csv.DictReader(text.splitlines()))
        assert len(rows) == 12
        assert {"US-WI:sell", "US-TX:sell", "US-MN>US-WI:ship"} <= set(rows[0])
    else:
        assert len(json.loads(out.read_text(encoding="utf-8"))["lines"]) == 12


def test_stock_on_the_terminal_ends_with_what_to_confirm(reference_path: Path) -> None:
    result = run(
        "stock",
        "demo_data/stock/marl_hollow_autumn.csv",
        "--to",
        "US-WI",
        "--store",
        str(reference_path),
    )
    assert "Hold these back: a list or a rule of your own restricts them" in result.output
    assert "Confirm these" not in result.output


def test_load_reference_builds_a_store(tmp_path: Path) -> None:
    store = tmp_path / "new.db"
    assert run("load", "reference", "--store", str(store)).exit_code == 0
    assert run("coverage", "--store", str(store)).exit_code == 0


def test_coverage_has_a_line_for_every_jurisdiction(reference_path: Path) -> None:
    output = run("coverage", "--store", str(reference_path)).output
    assert output.count("US-") >= 51


def test_the_demo_ends_with_five_sentences_of_what_to_do(tmp_path: Path) -> None:
    result = run("demo", "--store", str(tmp_path / "demo.db"))
    assert result.exit_code == 0
    assert all(f"  {number}. " in result.output for number in range(1, 6))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--live",), "takes --in with one state, or --polygon"),
        (("--live", "x.csv", "--in", "US-VT"), "not both"),
        (
            ("--live", "--plant", "cattail", "--in", "US-VT", "--contact", "a@b.org"),
            "not sure to mean one plant",
        ),
        (
            ("--live", "--plant", "Trapa natans", "--in", "US-VT", "--contact", "nobody"),
            "Give an e-mail or web address",
        ),
    ],
)
def test_a_live_load_says_what_it_needs(
    reference_path: Path, arguments: tuple[str, ...], words: str
) -> None:
    result = run("load", "occurrences", *arguments, store=reference_path)
    assert result.exit_code == 2
    assert words in " ".join(result.output.replace("│", " ").split())
