"""``reedgate changes --since last``: what is new since it was last asked."""

import shutil
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from data_loaders.regulations.from_tables import to_toml
from data_loaders.regulations.listfile import read_list_file
from data_loaders.regulations.load import FOLDER
from data_loaders.regulations.own_lists import load_list_files
from service.cli.main import main


@pytest.fixture
def store(reference_path: Path, tmp_path: Path) -> Path:
    path = tmp_path / "store.db"
    shutil.copy(reference_path, path)
    return path


def ask(store: Path, *more: str) -> Result:
    return CliRunner().invoke(main, ["changes", "--since", *more, "--store", str(store)])


def test_what_was_loaded_since_is_shown_once_though_its_day_is_past(
    store: Path, tmp_path: Path
) -> None:
    assert "Nothing was kept yet" in ask(store, "last").output
    assert "No change" in ask(store, "last").output
    model = read_list_file(FOLDER / "us-wi-nr109.toml")
    shorter = model.model_copy(
        update={"effective_from": date(2020, 1, 1), "amended": None, "entries": model.entries[1:]}
    )
    file = tmp_path / "us-wi-nr109@2020-01-01.toml"
    file.write_text(to_toml(shorter), encoding="utf-8")
    load_list_files(store, [file])
    result = ask(store, "last")
    assert result.exit_code == 0, result.output
    gone = model.entries[0].name_as_listed
    assert f"{gone}: removed" in result.output
    assert all(entry.name_as_listed not in result.output for entry in model.entries[1:])
    assert "No change" in ask(store, "last").output


def test_a_damaged_record_begins_anew(store: Path) -> None:
    ask(store, "last")
    store.with_name(f"{store.name}.law-seen.json.gz").write_bytes(b"damaged")
    assert "Nothing was kept yet" in ask(store, "last").output


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("yesterday",), 2),
        (("last", "--until", "2026-01-01"), 2),
        (("2024-01-01", "--in", "US-MN"), 0),
    ],
)
def test_exit_codes(store: Path, arguments: tuple[str, ...], code: int) -> None:
    assert ask(store, *arguments).exit_code == code
