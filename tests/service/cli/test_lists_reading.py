"""``reedgate lists read``, ``review`` and ``refresh`` as a person runs them."""

import hashlib
import json
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
import respx
from click.testing import CliRunner, Result

from data_loaders.regulations.listfile import read_list_file
from service.cli.main import main
from service.settings import settings

TEXT = """NR 109.07 Invasive aquatic plants

1. Eurasian water milfoil (Myriophyllum spicatum)
2. Curly leaf pondweed (Potamogeton crispus)
3. Water chestnut (Trapa natans)
"""
LIST = "us-wi-nr109"


@pytest.fixture
def law(tmp_path: Path) -> Path:
    path = tmp_path / "law.txt"
    path.write_text(TEXT, encoding="utf-8")
    return path


def run(*arguments: object, store: Path) -> Result:
    return CliRunner().invoke(main, [*map(str, arguments), "--store", str(store)])


def test_reading_prints_the_keys_of_the_contract(law: Path, reference_path: Path) -> None:
    result = run("lists", "read", law, "--list", LIST, "--json", store=reference_path)
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    for key in ("confirmed", "missing_here", "not_in_text", "unknown_names"):
        assert all(
            entry["name"] and "context" in entry and "place" in entry for entry in found[key]
        )
    assert {entry["name"] for entry in found["confirmed"]} == {
        "Myriophyllum spicatum",
        "Potamogeton crispus",
    }
    assert [entry["name"] for entry in found["missing_here"]] == ["Trapa natans"]
    assert [entry["name"] for entry in found["not_in_text"]] == ["Lythrum salicaria"]
    assert found["document"]["sha256"] == hashlib.sha256(TEXT.encode()).hexdigest()


def test_reading_writes_a_list_file_that_can_be_loaded(
    law: Path, reference_path: Path, tmp_path: Path
) -> None:
    out, page = tmp_path / "new.toml", tmp_path / "review.html"
    address = "https://docs.legis.wisconsin.gov/code/admin_code/nr/100/109"
    result = run(
        "lists", "read", law, "--list", LIST, "--out", out, "--review", page, "--address", address,
        "--copied-on", "2026-05-01", store=reference_path,
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    written = read_list_file(out)
    assert written.read_copy_date == "2026-05-01"
    assert written.read_url == address
    assert written.read_sha256 == hashlib.sha256(TEXT.encode()).hexdigest()
    assert "Trapa natans" in page.read_text(encoding="utf-8")
    assert "Lythrum salicaria" in {entry.name_as_listed for entry in written.entries}


def test_a_review_takes_over_what_a_person_accepts(
    law: Path, reference_path: Path, tmp_path: Path
) -> None:
    out = tmp_path / "new.toml"
    result = run(
        "lists",
        "review",
        law,
        "--list",
        LIST,
        "--accept",
        "all",
        "--out",
        out,
        store=reference_path,
    )
    assert result.exit_code == 0, result.output
    assert read_list_file(out).entries[-1].accepted_name == "Trapa natans"


def test_a_review_asks_one_by_one(law: Path, reference_path: Path, tmp_path: Path) -> None:
    out = tmp_path / "new.toml"
    arguments = [
        "lists",
        "review",
        str(law),
        "--list",
        LIST,
        "--out",
        str(out),
        "--store",
        str(reference_path),
    ]
    result = CliRunner().invoke(main, arguments, input="n\n")
    assert result.exit_code == 0, result.output
    assert "Trapa natans" not in {entry.accepted_name for entry in read_list_file(out).entries}


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("read", "law.txt", "--list", "us-xx-nothing"), 1),
        (("read", "nowhere.txt", "--list", LIST), 1),
        (("read", "http://127.0.0.1:8000/law.html", "--list", LIST), 1),
        (("read", "ftp://example.gov/law.html", "--list", LIST), 1),
        (("read", "law.txt"), 2),
        (("review", "law.txt", "--list", LIST, "--accept", "77", "--out", "x.toml"), 2),
        (("refresh", "us-xx-nothing"), 1),
    ],
)
def test_exit_codes_say_what_went_wrong(
    law: Path,
    reference_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...],
    code: int,
) -> None:
    monkeypatch.chdir(law.parent)
    result = run("lists", *arguments, store=reference_path)
    assert result.exit_code == code, result.output
    assert "Traceback" not in result.output


@pytest.fixture
def documents(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    folder = tmp_path / "data" / "documents"
    monkeypatch.setenv("REEDGATE_DOCUMENTS_FOLDER", str(folder))
    settings.cache_clear()
    monkeypatch.setattr("time.sleep", lambda seconds: None)
    monkeypatch.setattr(socket, "getaddrinfo", lambda *a, **k: [(2, 1, 6, "", ("8.8.8.8", 443))])
    yield folder
    monkeypatch.undo()
    settings.cache_clear()


@respx.mock
def test_refreshing_keeps_the_document_and_writes_only_when_asked(
    reference_path: Path, documents: Path
) -> None:
    respx.get(url__regex=r"https://.*/robots\.txt").respond(404)
    respx.get(url__regex=r"https://docs\.legis\.wisconsin\.gov/.*").respond(200, text=TEXT)
    before = reference_path.read_bytes()
    result = run("lists", "refresh", LIST, "--json", store=reference_path)
    assert result.exit_code == 0, result.output
    (found,) = json.loads(result.stdout)
    assert (found["list_id"], found["status"]) == (LIST, "changed")
    kept = list(documents.rglob("*.txt"))
    assert [path.stem for path in kept] == [hashlib.sha256(TEXT.encode()).hexdigest()]
    assert not (documents.parent / "lists").exists()
    result = run("lists", "refresh", LIST, "--write", store=reference_path)
    assert result.exit_code == 0, result.output
    assert "unchanged" in result.stdout
    assert (documents.parent / "lists" / f"{LIST}.toml").is_file()
    assert reference_path.read_bytes() == before
