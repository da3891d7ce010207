"""What a server bears: bodies that dribble, workers that come up on a busy machine, and work that
goes on, with the memory watched.

    python -m tests.benchmarks.measure_endurance --dribble 75
    python -m tests.benchmarks.measure_endurance --workers 4
    python -m tests.benchmarks.measure_endurance --soak 600
"""

import argparse
import asyncio
import contextlib
import itertools
import json
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from statistics import mean

import httpx
from rich.console import Console

from data_loaders.reference_store import load_demo
from tests.benchmarks.bench_service import get, labels_of, post, resident_mb
from tests.service.api.serving import Served, served

SOCKETS = 256
AT_ONCE = 8
PAUSE_S = 15
"""Between two bytes of a body that dribbles; less than the longest pause that is let be."""
PLAN = Path("demo_data/plans/heron_bend_plan.json")
STATES = ("US-OH", "US-WI", "US-FL", "US-TX", "US-MN", "US-WA")
console = Console(width=120)


async def _dribble(port: int, number: int) -> None:
    """A body of a megabyte, a byte at a time, begun again wherever the server ends it."""
    head = (
        b"POST /v1/stock-checks HTTP/1.1\r\nHost: 127.0.0.1\r\n"
        b"Content-Type: application/json\r\nContent-Length: 1000000\r\n\r\n{"
    )
    while True:
        with contextlib.suppress(OSError):
            _, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(head)
            await asyncio.sleep(PAUSE_S * number / SOCKETS)
            while not writer.is_closing():
                writer.write(b" ")
                await writer.drain()
                await asyncio.sleep(PAUSE_S)


async def _answered(port: int, seconds: int) -> Counter[str]:
    dribbling = [asyncio.create_task(_dribble(port, number)) for number in range(SOCKETS)]
    await asyncio.sleep(2)
    found: Counter[str] = Counter()
    stock = {"labels": ["Typha latifolia"], "to": ["US-OH"]}
    async with httpx.AsyncClient(base_url=f"http://127.0.0.1:{port}", timeout=10) as client:
        for number in range(seconds):
            began = time.perf_counter()
            try:
                answer = await (
                    client.post("/v1/stock-checks", json=stock)
                    if number % 2
                    else client.get(f"/v1/findings?label=Typha+{number}&jurisdiction=US-OH")
                )
                found[str(answer.status_code)] += 1
            except httpx.HTTPError as error:
                found[type(error).__name__] += 1
            await asyncio.sleep(max(0.0, 1 - (time.perf_counter() - began)))
    for dribbler in dribbling:
        dribbler.cancel()
    return found


def dribble(store: Path, seconds: int) -> None:
    with served(store) as running:
        found = asyncio.run(_answered(running.port, seconds))
    console.print(f"{SOCKETS} bodies dribble; {seconds} requests answered meanwhile: {dict(found)}")


def workers(store: Path, count: int) -> None:
    """With two busy processes for each core."""
    spin = [sys.executable, "-c", "while True: pass"]
    busy = [subprocess.Popen(spin) for _ in range(4)]
    began = time.perf_counter()
    try:
        with served(store, workers=count) as running:
            first = time.perf_counter() - began
            while _started(running) < count and time.perf_counter() - began < 120:
                time.sleep(0.1)
            console.print(
                f"{count} workers beside {len(busy)} busy processes: the first answers after "
                f"{first:.1f} s, {_started(running)} have started after "
                f"{time.perf_counter() - began:.1f} s"
            )
            asked = [
                httpx.get(f"{running.url}/v1/findings?label=Typha&jurisdiction=US-OH", timeout=30)
                for _ in range(40)
            ]
            counts = Counter(answer.status_code for answer in asked)
            died = running.log.read_text().count("died")
            console.print(f"40 requests, each by a new connection: {dict(counts)}; died: {died}")
    finally:
        for process in busy:
            process.kill()
            process.wait()


def _started(running: Served) -> int:
    return running.log.read_text().count("Application startup complete")


def _mixed(names: list[str]) -> Iterator[bytes]:
    """Labels never seen before, one by one and in lists, and plans of them."""
    plan = json.loads(PLAN.read_text())
    chance = random.Random(11)

    def label() -> str:
        return f"{chance.choice(names)} lot {chance.randrange(10**9)}"

    for number in itertools.count():
        if number % 20 == 19:
            plantings = [{"label": label()} for _ in range(chance.randrange(1, 6))]
            yield post("/v1/plan-checks", json.dumps({**plan, "plantings": plantings}).encode())
        elif number % 5 == 4:
            body = {
                "labels": [label() for _ in range(chance.randrange(1, 40))],
                "to": list(STATES[: chance.randrange(1, 7)]),
            }
            yield post("/v1/stock-checks", json.dumps(body).encode())
        else:
            query = httpx.QueryParams(label=label(), jurisdiction=chance.choice(STATES))
            yield get(f"/v1/findings?{query}")


async def _client(port: int, requests: Iterator[bytes], until: float, found: Counter[str]) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", port, limit=64_000_000)
    while time.monotonic() < until:
        try:
            writer.write(next(requests))
            head = (await reader.readuntil(b"\r\n\r\n")).lower()
            if b"content-length: " in head:
                length = int(head.split(b"content-length: ", 1)[1].split(b"\r\n", 1)[0])
                await reader.readexactly(length)
            else:
                while size := int((await reader.readuntil(b"\r\n")).strip(), 16):
                    await reader.readexactly(size + 2)
                await reader.readexactly(2)
            found[head[9:12].decode()] += 1
        except (OSError, asyncio.IncompleteReadError) as error:
            found[type(error).__name__] += 1
            reader, writer = await asyncio.open_connection("127.0.0.1", port, limit=64_000_000)
    writer.close()


async def _watch(pid: int, until: float, readings: list[tuple[float, float]]) -> None:
    began = time.monotonic()
    while time.monotonic() < until:
        readings.append((time.monotonic() - began, resident_mb(pid)))
        await asyncio.sleep(2)


async def _soaked(
    running: Served, names: list[str], seconds: float
) -> tuple[Counter[str], list[tuple[float, float]]]:
    found: Counter[str] = Counter()
    readings: list[tuple[float, float]] = []
    until = time.monotonic() + seconds
    requests = _mixed(names)
    await asyncio.gather(
        _watch(running.process.pid, until, readings),
        *(_client(running.port, requests, until, found) for _ in range(AT_ONCE)),
    )
    return found, readings


def soak(store: Path, seconds: float) -> None:
    names = labels_of(store)
    with served(store) as running:
        found, readings = asyncio.run(_soaked(running, names, seconds))
    minutes = [
        mean(held for at, held in readings if minute * 60 <= at < minute * 60 + 60)
        for minute in range(int(seconds // 60))
    ]
    console.print(f"{AT_ONCE} at once for {seconds:.0f} s: {dict(found)}")
    console.print(f"MB by minute: {' '.join(f'{megabytes:.0f}' for megabytes in minutes)}")
    console.print(f"last minute to first: {minutes[-1] / minutes[0]:.3f}")


def main() -> None:
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--dribble", type=int, default=0, help="seconds")
    arguments.add_argument("--workers", type=int, default=0, help="how many")
    arguments.add_argument("--soak", type=float, default=0, help="seconds, whole minutes")
    given = arguments.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "reedgate.db"
        load_demo(store)
        if given.dribble:
            dribble(store, given.dribble)
        if given.workers:
            workers(store, given.workers)
        if given.soak:
            soak(store, given.soak)


if __name__ == "__main__":
    main()
