"""What tests share: one store of the reference data, built once a session."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

from data_loaders.reference_store import load_reference
from service.store.database import Build
from service.store.library import Library

# Time limits of single examples say nothing on a busy machine; in CI the same examples are tried
# each time.
settings.register_profile("dev", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "dev"))


@pytest.fixture(scope="session")
def reference_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store of the package's reference data."""
    path = tmp_path_factory.mktemp("store") / "reference.db"
    load_reference(path)
    return path


@pytest.fixture(scope="session")
def library(reference_path: Path) -> Library:
    """The reference store, as values."""
    return Library(Build(reference_path))
