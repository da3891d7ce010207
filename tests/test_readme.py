"""Every command that the README shows is run, in a folder with the files that it names."""

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from service.cli.common import console
from service.cli.main import main
from tests import stores

ROOT = Path.cwd()
SHOWN = re.findall(
    r"`(reedgate [^`]+)`|^(reedgate .+)$",
    (ROOT / "README.md").read_text(encoding="utf-8"),
    re.MULTILINE,
)
FIRST = re.findall(
    r"```\n\$ (reedgate status [^\n]+)\n(.*?)```",
    (ROOT / "README.md").read_text(encoding="utf-8"),
    re.DOTALL,
)[0]
"""The first command, and its output as the README has it."""
BUILD = re.compile(r"\b[0-9a-f]{16}\b")
COMMANDS = sorted({re.sub(r"\s+#.*", "", one or other).strip() for one, other in SHOWN})
LASTING = ("reedgate serve", "reedgate demo --serve", "reedgate lists refresh --due")
"""Commands that serve until they are stopped, which the browser and service tests run, or that ask
the network, which ``test_lists_reading.py`` runs.
"""


def asks_the_network(command: str) -> bool:
    """Commands that ``test_fetch_cli.py``, ``test_published.py`` and ``test_database.py`` run against
    services that are made up there.
    """
    outside = ("reedgate fetch", "reedgate publish", "reedgate database")
    return command.startswith(outside) or "--fetch" in command


FILES = {
    "stock.csv": "stock/marl_hollow_stock.csv",
    "plan.json": "plans/heron_bend_plan.json",
    "plants.csv": "plans/heron_bend_plantings.csv",
    "sites.geojson": "plans/ferrow_community.geojson",
    "waters.gpkg": "geography/invented_waters.gpkg",
    "watersheds.geojson": "geography/invented_watersheds.geojson",
    "zones.csv": "geography/invented_zones_by_zip.csv",
    "records.zip": "geography/invented_occurrences_archive.zip",
}
LAW = """<html><body><h1>Invasive aquatic plants</h1><ol><li>Eurasian water milfoil
(<i>Myriophyllum spicatum</i>)<li>Water chestnut (<i>Trapa natans</i>)</ol></body></html>"""
OWN_LIST = "Plant,Why\nYellow flag iris,runs wild\nIris pseudacorus,the same\n"
TAXA = "taxonID\tscientificName\ttaxonRank\ttaxonomicStatus\tacceptedNameUsageID\n1\tTrapa natans L.\tspecies\taccepted\t\n"


@pytest.fixture(scope="module")
def demo_store() -> Path:
    return stores.demo_store()


@pytest.fixture
def folder(tmp_path: Path, demo_store: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with every file that the README names, and a store of its own."""
    for name, source in FILES.items():
        shutil.copy(ROOT / "demo_data" / source, tmp_path / name)
    (tmp_path / "no_plant.csv").write_text(OWN_LIST, encoding="utf-8")
    (tmp_path / "law.html").write_text(LAW, encoding="utf-8")
    (tmp_path / "backbone.tsv").write_text(TAXA, encoding="utf-8")
    listed = ROOT / "data_loaders/reference/regulations/us-wi-nr109.toml"
    shutil.copy(listed, tmp_path / "old.toml")
    shutil.copy(listed, tmp_path / "new.toml")
    shutil.copy(demo_store, tmp_path / "store.db")
    monkeypatch.setenv("REEDGATE_STORE", str(tmp_path / "store.db"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    "command", [one for one in COMMANDS if one not in LASTING and not asks_the_network(one)]
)
def test_a_command_of_the_readme_runs(folder: Path, reference_path: Path, command: str) -> None:
    arguments = shlex.split(command)[1:]
    if arguments[0] == "load":
        shutil.copy(reference_path, folder / "store.db")
    result = CliRunner().invoke(main, arguments, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    if "--out" in arguments:
        written = folder / arguments[arguments.index("--out") + 1]
        assert written.stat().st_size > 0
        if written.suffix in (".json", ".geojson"):
            json.loads(written.read_text(encoding="utf-8"))


def test_the_first_screen_shows_a_command_and_what_it_prints(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(console, "width", 100)
    command, printed = FIRST
    result = CliRunner().invoke(main, shlex.split(command)[1:], catch_exceptions=False)
    output = "\n".join(line.rstrip() for line in result.output.splitlines())
    assert BUILD.sub("BUILD", output).rstrip() == BUILD.sub("BUILD", printed).rstrip()


def test_the_readme_shows_the_commands_of_the_contract() -> None:
    named = {shlex.split(command)[1] for command in COMMANDS}
    assert {"demo", "load", "status", "stock", "plan", "community", "coverage", "serve"} <= named
