"""A quick command loads nothing that it does not use."""

import subprocess
import sys
from importlib import import_module
from pathlib import Path

import click
import pytest

from service.cli.main import COMMANDS, main

HEAVY = ("fastapi", "numpy", "pydantic", "pyproj", "rich", "scipy", "shapely", "sqlite3")


def loaded_by(*arguments: str) -> set[str]:
    """The modules that a process has loaded once a command has ended."""
    code = (
        "import sys\n"
        "from service.cli.main import main\n"
        f"try: main({list(arguments)!r})\n"
        "except SystemExit as end: assert not end.code, end.code\n"
        "print('\\nloaded:', *sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(ran.stdout.rpartition("loaded:")[2].split())


def test_the_help_loads_no_library_but_the_one_for_commands() -> None:
    loaded = loaded_by("--help")
    assert "click" in loaded
    assert not loaded.intersection(HEAVY)
    assert not [name for name in loaded if name.startswith("service.") and "cli" not in name
                and name != "service.errors"]  # fmt: skip


@pytest.mark.parametrize("name", COMMANDS)
def test_every_line_of_the_help_names_a_command_that_is_there(name: str) -> None:
    module, line = COMMANDS[name]
    command = getattr(import_module(f"service.cli.{module}"), name)
    assert isinstance(command, click.Command)
    assert command.name == name
    assert main.get_command(click.Context(main), name) is command
    assert line.endswith(".")


def test_a_command_that_is_not_there_is_wrong_usage() -> None:
    assert main.get_command(click.Context(main), "stauts") is None


def test_a_status_loads_no_arrays_geometry_or_server(reference_path: Path) -> None:
    arguments = ("status", "cattail", "--in", "US-OH", "--store", str(reference_path))
    loaded = loaded_by(*arguments)
    assert "service.store.library" in loaded
    assert not loaded.intersection(
        ("duckdb", "fastapi", "jinja2", "numpy", "openpyxl", "pyproj", "scipy", "shapely")
    )


def test_a_server_is_ready_without_what_only_plans_and_maps_need(reference_path: Path) -> None:
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from service.api.app import create_app\n"
        f"create_app(Path({str(reference_path)!r})).state.store.current()\n"
        "print('loaded:', *sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(ran.stdout.rpartition("loaded:")[2].split())
    assert "fastapi" in loaded
    assert not loaded.intersection(("duckdb", "jinja2", "numpy", "pyproj", "scipy", "shapely"))
