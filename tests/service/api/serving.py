"""A service of one's own on the loopback address, as ``reedgate serve`` runs it, for the time of
a test.
"""

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx


@dataclass
class Served:
    """A running service."""

    port: int
    process: subprocess.Popen[bytes]
    log: Path

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def stop(self, timeout_s: float = 30) -> int:
        """Ask it to stop, and wait. The exit code."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(timeout_s)

    def connect(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=10)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def served(
    store: Path | str, *, workers: int = 1, wrapped_in: tuple[str, ...] = (), **config: object
) -> Iterator[Served]:
    """Serve a store until the block ends. Settings are given by their names.

    Args:
        wrapped_in: a command that runs the service, such as one that takes rights away.
    """
    port = free_port()
    env = {
        **os.environ,
        **{f"REEDGATE_{name.upper()}": str(value) for name, value in config.items()},
    }
    command = [
        *wrapped_in,
        sys.executable,
        "-c",
        "from service.cli.main import main; main()",
        "serve",
        "--store",
        str(store),
        "--port",
        str(port),
    ]
    with tempfile.NamedTemporaryFile(suffix=".log") as log:
        process = subprocess.Popen(
            [*command, "--workers", str(workers)], env=env, stdout=log, stderr=log
        )
        running = Served(port, process, Path(log.name))
        try:
            _wait_until_live(running)
            yield running
        finally:
            if process.poll() is None:
                running.stop()


def _wait_until_live(running: Served) -> None:
    for _ in range(400):
        if running.process.poll() is not None:
            break
        try:
            httpx.get(f"{running.url}/health/live").raise_for_status()
        except httpx.HTTPError:
            time.sleep(0.05)
        else:
            return
    raise AssertionError(running.log.read_text())
