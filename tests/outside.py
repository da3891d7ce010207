"""Services that tests talk to: an S3-compatible object store, started here, and a database of
PostgreSQL, made for a test in a server that runs already.
"""

import os
import secrets
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from typing import NoReturn

import httpx
import pytest

from tests.service.api.serving import free_port

POSTGRESQL = os.environ.get("REEDGATE_TEST_POSTGRESQL", "postgresql://127.0.0.1:5432/postgres")
"""A server in which this account may make databases."""


def missing(what: str) -> NoReturn:
    """Skip the test and say why; in CI, where everything is installed, fail."""
    if os.environ.get("CI"):
        pytest.fail(what)
    pytest.skip(what)


class ObjectServer:
    """An S3-compatible server on the loopback address, in a process of its own, with one bucket."""

    bucket = "plants"

    def __init__(self) -> None:
        self.port = free_port()
        self.environment = {
            "AWS_ACCESS_KEY_ID": "invented",
            "AWS_SECRET_ACCESS_KEY": "invented",
            "AWS_REGION": "us-east-1",
            "AWS_ENDPOINT_URL": f"http://127.0.0.1:{self.port}",
        }
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start, with an empty bucket, and wait until it answers."""
        self._process = subprocess.Popen(
            [sys.executable, "-m", "moto.server", "-H", "127.0.0.1", "-p", str(self.port)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for _ in range(600):
            try:
                httpx.put(
                    f"http://127.0.0.1:{self.port}/{self.bucket}", timeout=10
                ).raise_for_status()
            except httpx.HTTPError:
                time.sleep(0.1)
            else:
                return
        raise AssertionError("the object server did not start")

    def stop(self) -> None:
        """Stop; what it held is gone."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None


@contextmanager
def object_server() -> Iterator[ObjectServer]:
    """An object server for the time of a block.

    Skips the test where it, or the library that talks to it, is not installed.
    """
    for module, package in (("moto", "moto[server]"), ("obstore", "reedgate[s3]")):
        if find_spec(module) is None:
            missing(f"needs an object store: pip install '{package}'")
    server = ObjectServer()
    try:
        server.start()
        yield server
    finally:
        server.stop()


@contextmanager
def postgresql_database() -> Iterator[str]:
    """The address of a new, empty database; dropped at the end.

    Skips the test where there is no server, or the library that talks to it is not installed.
    """
    if find_spec("psycopg") is None:
        missing("needs PostgreSQL's library: pip install 'reedgate[postgres]'")
    import psycopg
    from psycopg import sql

    name = f"reedgate_test_{secrets.token_hex(6)}"
    try:
        connection = psycopg.connect(POSTGRESQL, autocommit=True, connect_timeout=5)
    except psycopg.OperationalError:
        missing(
            "needs a PostgreSQL server in which databases may be made; name one in"
            " REEDGATE_TEST_POSTGRESQL"
        )
    with connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
    try:
        yield POSTGRESQL.rpartition("/")[0] + f"/{name}"
    finally:
        with psycopg.connect(POSTGRESQL, autocommit=True) as again:
            again.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))
