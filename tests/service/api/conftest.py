"""The application over the reference store."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from data_loaders.build import drafting
from service.api.app import create_app
from tests.stores import copied, reference_store


@pytest.fixture(scope="session")
def client(reference_path: Path) -> Iterator[TestClient]:
    with TestClient(create_app(reference_path), raise_server_exceptions=False) as client:
        yield client


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
