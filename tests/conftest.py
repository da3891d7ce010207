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


_APART = (
    "tests/browser",
    "tests/data_loaders/occurrences/test_addresses.py",
    "tests/data_loaders/occurrences/test_engines_agree.py",
    "tests/data_loaders/occurrences/test_full_disk.py",
    "tests/data_loaders/occurrences/test_killed.py",
    "tests/data_loaders/occurrences/test_spark_faults.py",
    "tests/service/api/test_client.py",
    "tests/service/api/test_edge.py",
    "tests/service/api/test_robustness.py",
    "tests/service/api/test_schemathesis.py",
    "tests/service/api/test_shared_jobs.py",
    "tests/service/cli/test_database.py",
    "tests/service/shared",
    "tests/service/store/test_published.py",
)
"""What starts a browser, Spark, servers or an object store, kills loads, asks a database, or makes a
client: minutes of a run that most changes do not touch. Left out where the whole suite is asked
for without more; CI runs them, and so do ``-m apart`` and their own path.
"""
_LEAVE_OUT = "REEDGATE_TEST_LEAVES_OUT"


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what runs apart, and leave it out of the usual suite."""
    folders = tuple(config.rootpath / name for name in _APART)
    apart = [
        item
        for item in items
        if any(item.path == folder or folder in item.path.parents for folder in folders)
    ]
    for item in apart:
        item.add_marker("apart")
    if os.environ[_LEAVE_OUT] == "yes":
        config.hook.pytest_deselected(items=apart)
        items[:] = [item for item in items if item not in set(apart)]


def pytest_configure(config: pytest.Config) -> None:
    """Name the run before other processes are started for it, and say what it leaves out."""
    folder()
    if not hasattr(config, "workerinput"):
        usual = config.getoption("markexpr") == "not slow" and not os.environ.get("CI")
        whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS
        os.environ[_LEAVE_OUT] = "yes" if usual and whole else "no"


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Take the stores of the run away, once all of its processes have ended."""
    if not hasattr(session.config, "workerinput"):
        remove_folder()
