"""The examples in docstrings give what they show."""

import doctest
import pkgutil
from importlib import import_module
from pathlib import Path

import pytest

import data_loaders
import service

DOMAIN = (
    "names", "regulation", "geography", "fit", "escape", "containment", "substitutes", "cautions",
)  # fmt: skip


def modules_with_examples() -> list[str]:
    return [
        module.name
        for package in (service, data_loaders)
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
        if ">>>" in _source(module.name)
    ]


def _source(module: str) -> str:
    path = Path(__file__).parent.parent.joinpath(*module.split("."))
    file = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    return file.read_text(encoding="utf-8") if file.is_file() else ""


MODULES = modules_with_examples()


@pytest.mark.parametrize("module", MODULES)
def test_examples_in_docstrings_give_what_they_show(module: str) -> None:
    failed, tried = doctest.testmod(import_module(module))
    assert failed == 0
    assert tried > 0


@pytest.mark.parametrize("part", DOMAIN)
def test_every_part_of_the_domain_shows_an_example(part: str) -> None:
    assert any(module.startswith(f"service.{part}.") for module in MODULES)
