"""The application over the reference store."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.api.app import create_app


@pytest.fixture(scope="session")
def client(reference_path: Path) -> Iterator[TestClient]:
    with TestClient(create_app(reference_path), raise_server_exceptions=False) as client:
        yield client
