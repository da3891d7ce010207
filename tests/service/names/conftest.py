"""The reference catalogue as the store holds it, and a resolver over it."""

import pytest

from service.names import Resolver
from tests.service.names.accuracy import ReferenceNames, named, reference_names
from tests.service.names.noise import Named


@pytest.fixture(scope="session")
def catalogue(tmp_path_factory: pytest.TempPathFactory) -> ReferenceNames:
    return reference_names(tmp_path_factory.mktemp("names"))


@pytest.fixture(scope="session")
def resolver(catalogue: ReferenceNames) -> Resolver:
    return Resolver(*catalogue)


@pytest.fixture(scope="session")
def every_name(catalogue: ReferenceNames) -> list[Named]:
    return named(*catalogue[:2])
