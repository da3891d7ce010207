"""Services that tests talk to: an S3-compatible object store and a cluster of Spark, started here,
and a database of PostgreSQL, made for a test in a server that runs already.
"""

import os
import secrets
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
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


@dataclass(frozen=True)
class SparkCluster:
    """A master and its workers, each a process of its own.

    Attributes:
        master: its address, as ``--master`` takes it.
    """

    master: str
    processes: tuple[subprocess.Popen[bytes], ...]

    @property
    def workers(self) -> tuple[int, ...]:
        """Their process ids."""
        return tuple(process.pid for process in self.processes[1:])


@contextmanager
def spark_cluster(workers: int = 2) -> Iterator[SparkCluster]:
    """A cluster on the loopback address for the time of a block, every worker of one core."""
    import pyspark

    home = Path(pyspark.__file__).parent
    start, classes = str(home / "bin" / "spark-class"), "org.apache.spark.deploy"
    port, page = free_port(), free_port()
    master = f"spark://127.0.0.1:{port}"
    ports = ["--host", "127.0.0.1", "--port", str(port), "--webui-port", str(page)]
    room = ["--host", "127.0.0.1", "--cores", "1", "--memory", "1500m", "--webui-port", "0"]
    running: list[subprocess.Popen[bytes]] = []
    with TemporaryDirectory() as scratch:
        environment = {**os.environ, "SPARK_HOME": str(home), "SPARK_WORKER_DIR": scratch}

        def begin(*command: str) -> None:
            quiet = subprocess.DEVNULL
            running.append(
                subprocess.Popen([start, *command], env=environment, stdout=quiet, stderr=quiet)
            )

        try:
            begin(f"{classes}.master.Master", *ports)
            _wait_for_workers(page, 0)
            for _ in range(workers):
                begin(f"{classes}.worker.Worker", *room, master)
            _wait_for_workers(page, workers)
            yield SparkCluster(master, tuple(running))
        finally:
            for process in running:
                process.kill()
                process.wait()


def _wait_for_workers(page: int, wanted: int) -> None:
    for _ in range(600):
        with suppress(httpx.HTTPError):
            said = httpx.get(f"http://127.0.0.1:{page}/json/", timeout=10).json()
            if said["aliveworkers"] >= wanted:
                return
        time.sleep(0.1)
    raise AssertionError("the cluster did not start")


def family(pids: list[int]) -> list[int]:
    """Processes and those that they began."""
    children: dict[int, list[int]] = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            parts = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        children.setdefault(int(parts[1]), []).append(int(path.parent.name))
    found, rest = [], list(pids)
    while rest:
        pid = rest.pop()
        found.append(pid)
        rest += children.get(pid, [])
    return found
