"""The reference catalogue as the store holds it, and a resolver over it."""

import pytest

from service.names import NameRecord, Resolver
from service.values.plants import Plant
from tests.service.names.accuracy import named, reference_names
from tests.service.names.noise import Named


@pytest.fixture(scope="session")
def catalogue(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Plant], list[NameRecord]]:
    return reference_names(tmp_path_factory.mktemp("names"))


@pytest.fixture(scope="session")
def resolver(catalogue: tuple[list[Plant], list[NameRecord]]) -> Resolver:
    return Resolver(*catalogue)


@pytest.fixture(scope="session")
def every_name(catalogue: tuple[list[Plant], list[NameRecord]]) -> list[Named]:
    return named(*catalogue)
