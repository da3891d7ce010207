"""The examples in the docstrings of the law."""

import doctest
import pkgutil
from importlib import import_module

import pytest

import service.regulation

MODULES = [
    f"service.regulation.{each.name}" for each in pkgutil.iter_modules(service.regulation.__path__)
]


@pytest.mark.parametrize("module", MODULES)
def test_examples_in_docstrings_give_what_they_show(module: str) -> None:
    failed, _ = doctest.testmod(import_module(module))
    assert failed == 0
