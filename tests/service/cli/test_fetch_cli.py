"""A newcomer's walk: from nothing to a plan answered for the creek behind the house, drawn by hand
without a network, and fetched.
"""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import respx
from click.testing import CliRunner, Result

from service.cli.main import main
from tests.data_loaders.fetch.hydrography_server import SITE, Hydrography

PLAN = {
    "site": {"geometry": {"type": "Point", "coordinates": list(SITE)}},
    "places": [{"name": "Back pond", "kind": "pond", "outlet": True, "depth_cm": 90}],
    "plantings": [{"label": "Butomus umbellatus", "place": "Back pond"}],
}


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = tmp_path_factory.mktemp("newcomer") / "new.db"
    done = CliRunner().invoke(main, ["load", "reference", "--store", str(store)])
    assert done.exit_code == 0, done.output
    return store


@pytest.fixture
def folder(reference: Path, tmp_path: Path) -> Path:
    (tmp_path / "new.db").write_bytes(reference.read_bytes())
    (tmp_path / "pond.json").write_text(json.dumps(PLAN), encoding="utf-8")
    return tmp_path


@pytest.fixture
def server() -> Iterator[Hydrography]:
    hydrography = Hydrography()
    with respx.mock(assert_all_called=False) as mock:
        mock.get(url__startswith="https://hydro.nationalmap.gov/").mock(side_effect=hydrography)
        yield hydrography


def run(folder: Path, *arguments: str) -> Result:
    return CliRunner().invoke(main, [*arguments, "--store", str(folder / "new.db")])


def waters_of(folder: Path) -> set[str]:
    answer = json.loads((folder / "answer.json").read_text(encoding="utf-8"))
    return {water["name"] for water in answer["site"]["waters"]}


def plan(folder: Path, *more: str) -> Result:
    path, out = str(folder / "pond.json"), str(folder / "answer.json")
    return run(folder, "plan", path, "--out", out, *more)


def test_without_any_water_the_plan_says_which_command_brings_them(folder: Path) -> None:
    said = run(folder, "plan", str(folder / "pond.json"))
    assert said.exit_code == 0, said.output
    assert "reedgate fetch waters --at -89.4000,43.0700" in " ".join(said.output.split())


def test_the_creek_is_given_by_hand_without_a_network(folder: Path) -> None:
    said = plan(folder, "--water", "Alder Creek, stream, 40 m, downstream")
    assert said.exit_code == 0, said.output
    assert waters_of(folder) == {"Alder Creek"}


def test_the_creek_is_answered_after_two_commands(folder: Path, server: Hydrography) -> None:
    done = run(folder, "fetch", "waters", "--at", f"{SITE[0]},{SITE[1]}", "--within-km", "3")
    assert done.exit_code == 0, done.output
    assert "6 features of waters" in done.output
    assert plan(folder).exit_code == 0
    assert {"Alder Creek 10", "Teal Pond"} <= waters_of(folder)


def test_a_plan_fetches_what_is_around_its_site(folder: Path, server: Hydrography) -> None:
    said = plan(folder, "--fetch")
    assert said.exit_code == 0, said.output
    assert "Alder Creek 10" in waters_of(folder)


def test_the_report_of_a_fetch_comes_as_json(folder: Path, server: Hydrography) -> None:
    at = f"{SITE[0]},{SITE[1]}"
    done = run(folder, "fetch", "watersheds", "--at", at, "--json")
    assert json.loads(done.output)["load"]["rows_kept"] == 1
    counted = run(folder, "fetch", "waters", "--at", at, "--count", "--json")
    assert json.loads(counted.output)["features"]["NetworkNHDFlowline"] == 2


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["fetch", "waters"], 2),
        (["fetch", "waters", "--at", "somewhere"], 2),
        (["fetch", "waters", "--at", "-89.4,43.07", "--within-km", "400"], 2),
        (["fetch", "records", "--at", "-89.4,43.07"], 2),
    ],
)
def test_wrong_usage_ends_with_2(folder: Path, arguments: list[str], code: int) -> None:
    assert run(folder, *arguments).exit_code == code
