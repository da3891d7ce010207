"""Several servers behind a proxy, with PostgreSQL and an object store: what fails while a build is
published, a server is killed and the object store is away; and how throughput grows with workers.

    python -m tests.benchmarks.measure_servers [--away 60]
    python -m tests.benchmarks.measure_servers --workers

Everything runs on the loopback address. The proxy is a plain one of connections, which passes over
a server that does not take them.
"""

import argparse
import asyncio
import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar

import httpx

from data_loaders.build import drafting
from data_loaders.publish import publish
from service.api.examples import examples
from service.shared.database import Database
from service.store.database import Build
from service.store.objects import objects_at
from tests.outside import family, object_server, postgresql_database
from tests.service.api.serving import Served, free_port, served
from tests.stores import copied, reference_store

CLIENTS = 4
SECONDS = 8
T = TypeVar("T")


class Proxy:
    """Connections to servers in turn; one that refuses is passed over."""

    def __init__(self, ports: list[int]) -> None:
        self.port = free_port()
        self._ports = ports
        self._turn = 0
        self._loop = asyncio.new_event_loop()
        self._connections: set[asyncio.StreamWriter] = set()
        threading.Thread(target=self._loop.run_forever, daemon=True).start()
        self.open()

    def open(self) -> None:
        """Take connections, and go on doing so."""
        self._listening = self._done(asyncio.start_server(self._serve, "127.0.0.1", self.port))

    def close(self) -> None:
        """Refuse connections from now on, and break off those that there are."""

        async def close() -> None:
            self._listening.close()
            for writer in self._connections:
                writer.transport.abort()

        self._done(close())

    def _done(self, work: Coroutine[Any, Any, T]) -> T:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._turn = (self._turn + 1) % len(self._ports)
        for port in self._ports[self._turn :] + self._ports[: self._turn]:
            with suppress(OSError):
                there = await asyncio.open_connection("127.0.0.1", port)
                self._connections |= {writer, there[1]}
                await asyncio.gather(self._pass(reader, there[1]), self._pass(there[0], writer))
                self._connections -= {writer, there[1]}
                return
        writer.close()

    @staticmethod
    async def _pass(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(OSError):
            while piece := await reader.read(65_536):
                writer.write(piece)
                await writer.drain()
        writer.close()


FINDING = ("GET", "/v1/findings?label=water%20hyacinth&jurisdiction=US-WI&act=sell", b"")
_LABELS = (
    "Pickerel weed 1 gal",
    "Nymphaea odorata",
    "yellow iris",
    "water lettuce",
    "blue flag",
) * 4
STOCK = (
    "POST",
    "/v1/stock-checks?to=US-WI&to=US-OH&to=US-FL&act=sell",
    "\n".join(["label", *_LABELS]).encode(),
)


class Load:
    """Clients that ask without a pause until told to stop; each time on a new connection."""

    def __init__(self, url: str, asked: tuple[str, str, bytes] = FINDING) -> None:
        self._url = url
        self._asked = asked
        self._going = True
        self.answers: Counter[str] = Counter()
        self.builds: dict[str, float] = {}
        self._pool = ThreadPoolExecutor(CLIENTS)
        self._clients = [self._pool.submit(self._ask) for _ in range(CLIENTS)]

    def _ask(self) -> None:
        method, path, body = self._asked
        headers = {"Connection": "close", "Content-Type": "text/csv", "Accept": "application/json"}
        client = httpx.Client(headers=headers, timeout=60)
        while self._going:
            try:
                answer = client.request(method, f"{self._url}{path}", content=body)
                self.answers[str(answer.status_code)] += 1
                if answer.status_code == 200:
                    self.builds[answer.json()["store_build"]] = time.monotonic()
            except httpx.HTTPError as error:
                self.answers[type(error).__name__] += 1

    def stop(self) -> None:
        self._going = False
        for client in self._clients:
            client.result()


def begin_jobs(url: str, count: int) -> list[str]:
    body = examples()["screen_community"][0].body
    begun = []
    for _ in range(count):
        with suppress(httpx.HTTPError):
            answer = httpx.post(
                f"{url}/v1/community-screenings?begin=true", content=body, timeout=60
            )
            if answer.status_code == 202:
                begun.append(answer.headers["Location"])
    return begun


def ended(url: str, addresses: list[str], within_s: float = 180) -> Counter[str]:
    states: Counter[str] = Counter()
    end = time.monotonic() + within_s
    for address in addresses:
        state = "not ended"
        while time.monotonic() < end:
            with suppress(httpx.HTTPError):
                answer = httpx.get(f"{url}{address}", timeout=60)
                state = answer.json().get("state", str(answer.status_code))
                if answer.status_code != 202:
                    break
            time.sleep(0.2)
        states[state] += 1
    return states


def other_build(path: Path) -> Path:
    copied(reference_store(), path)
    with drafting(path, on_top=True) as draft:
        draft.db.table("source").insert(
            {"source_id": path.stem, "kind": "reference", "title": "Invented", "sha256": "0" * 64}
        )
    return path


def build_id(path: Path) -> str:
    build = Build(path)
    try:
        return build.build_id
    finally:
        build.close()


def until_on(servers: list[Served], wanted: str, within_s: float = 120) -> float:
    """Seconds until every server that runs answers from a build."""
    begun = time.monotonic()
    for server in servers:
        while server.process.poll() is None:
            with suppress(httpx.HTTPError, KeyError):
                if (
                    httpx.get(f"{server.url}/health/ready", timeout=30).json()["store_build"]
                    == wanted
                ):
                    break
            assert time.monotonic() - begun < within_s
            time.sleep(0.1)
    return time.monotonic() - begun


def servers_under_faults(folder: Path, stack: ExitStack, away_s: float) -> None:
    objects_server = stack.enter_context(object_server())
    os.environ.update(objects_server.environment)
    address = f"s3://{objects_server.bucket}/builds"
    objects = objects_at(address)
    way = Proxy([objects_server.port])  # that of the servers to the object store
    os.environ["AWS_ENDPOINT_URL"] = f"http://127.0.0.1:{way.port}"
    first, second = reference_store(), other_build(folder / "second.db")
    publish(objects, first, keep=3)
    url = stack.enter_context(postgresql_database())
    database = Database(url)
    database.migrate()
    database.close()
    servers = [
        stack.enter_context(
            served(
                address,
                store_copies=folder / f"copy-{number}",
                store_check_seconds=2,
                database_url=url,
            )
        )
        for number in range(3)
    ]
    print(f"three servers ready after {until_on(servers, build_id(first)):.1f} s")
    proxy = Proxy([server.port for server in servers])
    front = f"http://127.0.0.1:{proxy.port}"

    load = Load(front)
    jobs = begin_jobs(front, 8)
    publish(objects, second, keep=3)
    took = until_on(servers, build_id(second))
    print(f"published under load: all on the new build after {took:.1f} s")
    load.stop()
    print(f"  answers: {dict(load.answers)}; jobs begun {len(jobs)}: {dict(ended(front, jobs))}")

    load = Load(front)
    jobs = begin_jobs(front, 8)
    servers[0].process.send_signal(signal.SIGKILL)
    servers[0].process.wait()
    states = ended(front, jobs)
    load.stop()
    print(f"one of three killed: answers {dict(load.answers)}; jobs begun {len(jobs)}: {states}")

    third = other_build(folder / "third.db")
    load = Load(front)
    way.close()
    time.sleep(away_s / 2)
    publish(objects, third, keep=3)
    time.sleep(away_s / 2)
    ready = [httpx.get(f"{server.url}/health/ready", timeout=60) for server in servers[1:]]
    way.open()
    took = until_on(servers, build_id(third))
    load.stop()
    print(f"object store away for {away_s:g} s, and a build published meanwhile:")
    print(f"  answers {dict(load.answers)}; all on the new build {took:.1f} s after it came back")
    for answer in ready:
        print(f"  readiness said {answer.status_code}: {answer.json()['store_refused']}")


def throughput(folder: Path) -> None:
    store = copied(reference_store(), folder / "reedgate.db")
    for what, asked in (("findings", FINDING), ("stock checks of 20 labels", STOCK)):
        print(what)
        _by_workers(store, asked)


def _by_workers(store: Path, asked: tuple[str, str, bytes]) -> None:
    first, cores = 0.0, os.cpu_count() or 1
    for workers in (1, 2, 3):
        with served(store, workers=workers, response_cache_mb=0) as running:
            httpx.get(f"{running.url}/v1/findings?label=typha&jurisdiction=US-WI", timeout=60)
            time.sleep(2)
            of_server, of_clients, idle = _processor(running), time.process_time(), _idle()
            load = Load(running.url, asked)
            time.sleep(SECONDS)
            load.stop()
            of_server = (_processor(running) - of_server) / SECONDS
            of_clients = (time.process_time() - of_clients) / SECONDS
            idle = (_idle() - idle) / SECONDS
        rate = load.answers["200"] / SECONDS
        first = first or rate
        print(f"{workers} workers: {rate:.0f} answers a second, {rate / first:.2f} of one worker")
        print(
            f"  of {cores} cores the server took {of_server:.2f}, the clients {of_clients:.2f},"
            f" others {max(0.0, cores - of_server - of_clients - idle):.2f}; {idle:.2f} were idle:"
            f" {'no core was left' if idle < 0.1 * cores else 'it waits for more than cores'}"
        )


def _processor(running: Served) -> float:
    """Seconds that the processes of a server took so far."""
    ticks = 0
    for pid in family([running.process.pid]):
        with suppress(OSError):
            parts = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
            ticks += int(parts[11]) + int(parts[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def _idle() -> float:
    """Seconds that the cores of this machine were idle, all together."""
    parts = Path("/proc/stat").read_text().split()
    return (int(parts[4]) + int(parts[5])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    """Run one of the two."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--workers", action="store_true", help="throughput of 1, 2 and 3 workers")
    parser.add_argument(
        "--away", type=float, default=20, help="seconds for which the object store is away"
    )
    asked = parser.parse_args()
    with TemporaryDirectory() as name, ExitStack() as stack:
        if asked.workers:
            throughput(Path(name))
        else:
            servers_under_faults(Path(name), stack, asked.away)


if __name__ == "__main__":
    main()
