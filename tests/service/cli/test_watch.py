"""``reedgate watch`` as a person and a timer run it."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.cli.main import main
from service.cli.watch import CHANGED


@pytest.fixture
def folder(reference_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copy(reference_path, tmp_path / "store.db")
    (tmp_path / "stock.csv").write_text(
        "Plant Name\nTrapa natans\nTypha latifolia\n", encoding="utf-8"
    )
    monkeypatch.setenv("REEDGATE_STORE", str(tmp_path / "store.db"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["watch", *arguments])


def test_a_watch_says_nothing_until_something_changes(folder: Path) -> None:
    assert run("add", "spring", "stock.csv", "--to", "US-WI").exit_code == 0
    assert run("run").exit_code == 0
    (folder / "stock.csv").write_text(
        "Plant Name\nTrapa natans\nIris pseudacorus\n", encoding="utf-8"
    )
    changed = run("run", "spring", "--json")
    assert changed.exit_code == CHANGED == 3
    (answer,) = json.loads(changed.stdout)
    assert {change["label"] for change in answer["changes"]} == {
        "Iris pseudacorus",
        "Typha latifolia",
    }
    assert run("run", "spring").exit_code == 0


def test_a_stock_list_that_is_gone_leaves_the_lines_of_the_last_run(folder: Path) -> None:
    run("add", "spring", "stock.csv", "--to", "Wisconsin")
    (folder / "stock.csv").unlink()
    result = run("run")
    assert result.exit_code == 0
    assert "lines of the last run" in result.output


def test_watches_are_listed_and_removed(folder: Path) -> None:
    run("add", "spring", "stock.csv", "--to", "all")
    assert "spring" in run("list").output
    assert run("remove", "spring").exit_code == 0
    assert "no watch" in run("list").output
    assert run("run").exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("run", "nothing"), 1),
        (("remove", "nothing"), 1),
        (("add", "spring", "nowhere.csv", "--to", "US-WI"), 1),
        (("add", "spring", "stock.csv"), 2),
        (("add", "a/b", "stock.csv", "--to", "US-WI"), 2),
        (("add", "spring", "stock.csv", "--to", "US-XX"), 2),
    ],
)
def test_exit_codes_say_what_went_wrong(
    folder: Path, arguments: tuple[str, ...], code: int
) -> None:
    assert run(*arguments).exit_code == code
