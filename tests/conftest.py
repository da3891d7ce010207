"""What tests share: one store of the reference data, built once a session."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

from data_loaders.build import drafting
from service.store.database import Build
from service.store.library import Library
from tests.stores import copied, folder, reference_store, remove_folder

# Time limits of single examples say nothing on a busy machine; in CI the same examples are tried
# each time.
settings.register_profile("dev", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "dev"))


@pytest.fixture(scope="session")
def reference_path() -> Path:
    """A store of the package's reference data."""
    return reference_store()


@pytest.fixture(scope="session")
def library(reference_path: Path) -> Library:
    """The reference store, as values."""
    return Library(Build(reference_path))


@pytest.fixture(scope="session")
def other_build(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The reference store again, under another build id."""
    path = tmp_path_factory.mktemp("other") / "reedgate.db"
    copied(reference_store(), path)
    with drafting(path, on_top=True) as draft:
        draft.db.table("source").insert(
            {"source_id": "invented", "kind": "reference", "title": "Invented", "sha256": "0" * 64}
        )
    return path


def pytest_configure() -> None:
    """Name the run before other processes are started for it."""
    folder()


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Take the stores of the run away, once all of its processes have ended."""
    if not hasattr(session.config, "workerinput"):
        remove_folder()
