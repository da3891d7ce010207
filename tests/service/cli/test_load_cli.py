"""``reedgate load``: reports for people and as JSON, and exit codes. All files are invented."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.cli.main import main
from tests.data_loaders.occurrences.files import record, write_tsv
from tests.data_loaders.occurrences.stores import make_store


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "store.db")


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["load", *arguments])


def test_the_report_is_one_json_object(store: Path, tmp_path: Path) -> None:
    path = write_tsv(tmp_path / "a.tsv", [record(1), record(2, scientificName="", species="")])
    result = run("occurrences", str(path), "--store", str(store), "--json")
    assert result.exit_code == 0
    report = json.loads(result.output)
    assert (report["kind"], report["rows_read"], report["unchanged"]) == ("occurrences", 2, False)
    assert report["files"][0]["file"] == "a.tsv"
    again = json.loads(run("occurrences", str(path), "--store", str(store), "--json").output)
    assert again["unchanged"]
    assert again["rows_read"] == 2


def test_nothing_kept_ends_with_one_and_the_reason(store: Path, tmp_path: Path) -> None:
    path = write_tsv(tmp_path / "a.tsv", [record(1, occurrenceStatus="ABSENT")])
    result = run("occurrences", str(path), "--store", str(store))
    assert result.exit_code == 1
    assert "0 of 1 rows kept; 1 set apart: absent" in result.output
    loaded = run("occurrences", str(path), "--store", str(store), "--json")
    assert loaded.exit_code == 1
    answer = json.loads(loaded.output)
    assert answer["problem"]["type"] == "NothingKept"
    assert answer["report"]["set_apart"] == {"absent": 1}


def test_a_file_that_is_not_read_is_a_problem_with_its_name(store: Path, tmp_path: Path) -> None:
    (tmp_path / "a.avro").write_bytes(b"Obj\x01\x04")
    result = run("occurrences", str(tmp_path / "a.avro"), "--store", str(store), "--json")
    assert result.exit_code == 1
    problem = json.loads(result.output)["problem"]
    assert problem["file"] == "a.avro"
    assert "Convert it to Parquet or CSV" in problem["next_step"]


def test_headings_are_named_on_the_command_line(store: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("Nom;lat;lon\nNymphaea odorata;41.5;-83.5\n")
    result = run(
        *("occurrences", str(path), "--column", "scientificName=Nom", "--store", str(store))
    )
    assert result.exit_code == 0
    assert "1 rows read, 1 kept" in result.output
    wrong = run("occurrences", str(path), "--column", "scientificName", "--store", str(store))
    assert wrong.exit_code == 2
