"""Findings and stock checks against routes that return a constant of the same size, on the loopback
address, in one run.

    python -m tests.benchmarks.bench_service               # about three minutes
    python -m tests.benchmarks.bench_service --part stock  # the long answers alone
    python -m tests.benchmarks.bench_service --flat 300    # then five minutes of mixed load,
                                                           # watching the memory

The client sends prepared bytes over connections that stay open and reads no more of an answer than
its length, so that the server is what is measured. Figures are ratios to the constant of the same
run; the absolute ones are of this machine and of what else runs on it.
"""

import argparse
import asyncio
import itertools
import json
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import mean, median
from urllib.parse import quote

import httpx
from rich.console import Console
from rich.table import Table

from data_loaders.reference_store import load_reference
from service.store.database import Build
from service.store.library import Library
from tests.service.api.serving import Served, free_port, served

STATES = ("US-OH", "US-WI", "US-FL", "US-TX", "US-MN", "US-WA")
CONCURRENCIES = (1, 16, 64)
ROUNDS = 7
LONG_ROUNDS = 5
PARTS = ("findings", "stock")
console = Console(width=130)


@dataclass
class Load:
    """What came of one load."""

    seconds: list[float]
    errors: int
    elapsed_s: float
    cpu_s: float = 0.0

    @property
    def cpu_ms(self) -> float:
        """Processor time of the server for one request, which other work on the machine changes
        little.
        """
        return self.cpu_s / len(self.seconds) * 1_000

    @property
    def per_second(self) -> float:
        return len(self.seconds) / self.elapsed_s

    def quantile_ms(self, share: float) -> float:
        ordered = sorted(self.seconds)
        return ordered[min(len(ordered) - 1, int(len(ordered) * share))] * 1_000


def get(path: str) -> bytes:
    return f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode()


def post(path: str, body: bytes) -> bytes:
    head = f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    return head.encode() + body


async def _ask(port: int, requests: Iterator[bytes], until: float, load: Load) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", port, limit=8_000_000)
    while time.perf_counter() < until:
        began = time.perf_counter()
        writer.write(next(requests))
        head = await reader.readuntil(b"\r\n\r\n")
        length = int(head.lower().split(b"content-length: ", 1)[1].split(b"\r\n", 1)[0])
        await reader.readexactly(length)
        load.seconds.append(time.perf_counter() - began)
        load.errors += not head.startswith(b"HTTP/1.1 200")
    writer.close()
    await writer.wait_closed()


async def _load(port: int, shared: Iterator[bytes], concurrency: int, seconds: float) -> Load:
    load = Load([], 0, 0.0)
    began = time.perf_counter()
    await asyncio.gather(*(_ask(port, shared, began + seconds, load) for _ in range(concurrency)))
    load.elapsed_s = time.perf_counter() - began
    return load


@contextmanager
def constants(body: bytes) -> Iterator[Served]:
    """The routes with the constant, served as ``reedgate serve`` serves."""
    port = free_port()
    command = [
        sys.executable,
        "-m",
        "uvicorn",
        "tests.benchmarks.constant_app:app",
        "--port",
        str(port),
        "--log-level",
        "warning",
        "--no-access-log",
    ]
    with tempfile.NamedTemporaryFile() as file:
        file.write(body)
        file.flush()
        process = subprocess.Popen(command, env={**os.environ, "CONSTANT_BODY": file.name})
        try:
            for _ in range(200):
                try:
                    httpx.get(f"http://127.0.0.1:{port}/constant")
                except httpx.HTTPError:
                    time.sleep(0.05)
                else:
                    break
            yield Served(port, process, Path(file.name))
        finally:
            process.terminate()
            process.wait()


def labels_of(store: Path) -> list[str]:
    """Labels as nurseries write them, one for each name of the store."""
    names = sorted({record.name for record in Library(Build(store)).names})
    return [
        f"{name} {size}"
        for name, size in zip(names, itertools.cycle(("4in", "1 gal", "bare root")), strict=False)
    ]


def never_seen(labels: Sequence[str]) -> Iterator[bytes]:
    """Findings for one label after another, none of them twice: each name once, and from then on
    in further sizes.
    """
    for count in itertools.count(2):
        for label, state in zip(labels, itertools.cycle(STATES), strict=False):
            asked = label if count == 2 else f"{label} {count} ct"
            yield get(f"/v1/findings?label={quote(asked)}&jurisdiction={state}&act=sell")


def resident_mb(pid: int) -> float:
    fields = Path(f"/proc/{pid}/statm").read_text().split()
    return int(fields[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def measure(seconds: float, flat_s: float, parts: Sequence[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "reedgate.db"
        load_reference(store)
        labels = labels_of(store)
        random.Random(1).shuffle(labels)
        paths = [
            f"/v1/findings?label={quote(label)}&jurisdiction={state}&act=sell"
            for state in STATES
            for label in labels
        ]
        stock = [
            post(
                "/v1/stock-checks",
                json.dumps(
                    {"labels": labels[at : at + 20], "to": ["US-OH", "US-WI", "US-FL"]}
                ).encode(),
            )
            for at in range(0, len(labels) - 20, 20)
        ]
        with served(store) as keeping, served(store, response_cache_mb=0) as forgetful:
            sizes = [len(httpx.get(f"{keeping.url}{path}").content) for path in paths[:200]]
            typical = min(range(len(sizes)), key=lambda at: abs(sizes[at] - mean(sizes)))
            body = httpx.get(f"{keeping.url}{paths[typical]}").content
            seen = itertools.cycle([get(path) for path in paths[:500]])
            loads = {
                "finding, asked before (kept)": (keeping, seen),
                "finding, label seen before": (forgetful, seen),
                "finding, label not seen before": (forgetful, never_seen(labels)),
                "stock check, 20 lines x 3 states": (forgetful, itertools.cycle(stock)),
            }
            if "findings" in parts:
                with constants(body) as constant:
                    _table(len(body), constant, loads, seconds)
            if "stock" in parts:
                _long_answers(forgetful, labels)
            if flat_s:
                _flat(
                    forgetful.process.pid,
                    forgetful.port,
                    [*(get(path) for path in paths), *stock],
                    flat_s,
                )


def _table(
    size: int, constants: Served, loads: dict[str, tuple[Served, Iterator[bytes]]], seconds: float
) -> None:
    table = Table(
        "what",
        "at once",
        "requests/s",
        "median ms",
        "p99 ms",
        "errors",
        "cost: constant = 1",
        "constant value = 1",
        "CPU ms of the server",
        "CPU: constant = 1",
    )
    constant, value = f"constant, {size:,} bytes", "constant value"
    every = {
        constant: (constants, itertools.repeat(get("/constant"))),
        value: (constants, itertools.repeat(get("/constant-value"))),
        **loads,
    }
    for concurrency in CONCURRENCIES:
        rounds: dict[str, list[Load]] = {name: [] for name in every}
        for _ in range(ROUNDS + 1):
            # In turns, so that whatever else the machine does falls on all alike; the first round
            # is for warming up.
            for name, (server, requests) in every.items():
                used = _cpu_s(server.process.pid)
                load = asyncio.run(_load(server.port, requests, concurrency, seconds / ROUNDS))
                load.cpu_s = _cpu_s(server.process.pid) - used
                rounds[name].append(load)
        for name, measured in rounds.items():
            costs = [_median_ratio(rounds[base][1:], measured[1:]) for base in (constant, value)]
            whole = _whole(measured[1:])
            costs.append(whole.cpu_ms / _whole(rounds[constant][1:]).cpu_ms)
            _row(table, name, concurrency, whole, costs)
        table.add_section()
    console.print(table)


def _median_ratio(base: list[Load], measured: list[Load]) -> float:
    return median(
        one.per_second / other.per_second for one, other in zip(base, measured, strict=True)
    )


def _row(table: Table, name: str, concurrency: int, whole: Load, costs: list[float]) -> None:
    figures = (
        f"{whole.per_second:,.0f}",
        f"{whole.quantile_ms(0.5):.2f}",
        f"{whole.quantile_ms(0.99):.2f}",
        str(whole.errors),
    )
    *ratios, cpu = [f"{cost:.2f}" for cost in costs]
    table.add_row(name, str(concurrency), *figures, *ratios, f"{whole.cpu_ms:.3f}", cpu)


def _whole(measured: list[Load]) -> Load:
    return Load(
        [seconds for load in measured for seconds in load.seconds],
        sum(load.errors for load in measured),
        sum(load.elapsed_s for load in measured),
        sum(load.cpu_s for load in measured),
    )


def _long_answers(running: Served, labels: list[str]) -> None:
    """1,000 lines x 51 places as JSON, against writing the same bytes and the same value."""
    table = Table("1,000 lines x 51, JSON", "MB", "seconds", "CPU s of the server", "bytes = 1")
    # Sold in a size that no other request asked about.
    chosen = [f"{label} 2 qt" for label in random.Random(5).sample(labels, 1_000 * LONG_ROUNDS)]
    asked = [
        post(
            "/v1/stock-checks",
            json.dumps({"labels": chosen[at::LONG_ROUNDS], "to": ["all"]}).encode(),
        )
        for at in range(LONG_ROUNDS)
    ]
    found: dict[str, list[tuple[float, float]]] = {}
    whole, *_ = _once(running, asked[0])
    with constants(whole) as constant:
        for request in asked:
            for name, server, sent in (
                ("the same bytes", constant, get("/constant")),
                ("the same value", constant, get("/constant-value")),
                ("stock check, labels not seen before", running, request),
                ("stock check, labels seen before", running, request),
            ):
                _, seconds, cpu_s = _once(server, sent)
                found.setdefault(name, []).append((seconds, cpu_s))
    base = median(cpu_s for _, cpu_s in found["the same bytes"])
    for name, readings in found.items():
        seconds, cpu_s = (median(column) for column in zip(*readings, strict=True))
        ratio = f"{cpu_s / base:.2f}"
        table.add_row(name, f"{len(whole) / 1e6:.1f}", f"{seconds:.3f}", f"{cpu_s:.3f}", ratio)
    console.print(table)


def _once(server: Served, request: bytes) -> tuple[bytes, float, float]:
    """The body of one answer, its seconds, and the processor time that the server took for it."""
    used, began = _cpu_s(server.process.pid), time.perf_counter()
    with server.connect() as connection, connection.makefile("rb") as answer:
        connection.settimeout(120)
        connection.sendall(request)
        head = {}
        assert answer.readline().startswith(b"HTTP/1.1 200")
        while line := answer.readline().strip():
            name, _, value = line.lower().partition(b": ")
            head[name] = value
        pieces = []
        if b"content-length" in head:
            pieces.append(answer.read(int(head[b"content-length"])))
        else:
            while size := int(answer.readline(), 16):
                pieces.append(answer.read(size))
                answer.readline()
    seconds = time.perf_counter() - began
    return b"".join(pieces), seconds, _cpu_s(server.process.pid) - used


def _cpu_s(pid: int) -> float:
    """Processor time of a process so far, by its own clock (Linux, ``clock_getcpuclockid(3)``),
    for that of ``/proc`` counts hundredths of a second.
    """
    return time.clock_gettime((~pid << 3) | 2)


def _flat(pid: int, port: int, asked: list[bytes], seconds: float) -> None:
    requests = itertools.cycle(asked)
    asyncio.run(_load(port, requests, 8, min(20.0, seconds / 5)))  # until what is kept is kept
    readings, errors, answered = [resident_mb(pid)], 0, 0
    for _ in range(10):
        load = asyncio.run(_load(port, requests, 8, seconds / 10))
        errors, answered = errors + load.errors, answered + len(load.seconds)
        readings.append(resident_mb(pid))
    console.print(
        f"memory over {seconds:.0f} s, {answered:,} requests, {errors} errors: {' '.join(f'{megabytes:.0f}' for megabytes in readings)} MB"
    )
    console.print(f"last to first: {readings[-1] / readings[0]:.3f}")


if __name__ == "__main__":
    arguments = argparse.ArgumentParser()
    arguments.add_argument(
        "--part", choices=PARTS, action="append", help="one of them alone; both where none is said"
    )
    arguments.add_argument("--seconds", type=float, default=4.0, help="of each load")
    arguments.add_argument(
        "--flat", type=float, default=0.0, help="seconds of mixed load with the memory watched"
    )
    given = arguments.parse_args()
    measure(given.seconds, given.flat, given.part or PARTS)
