"""Ten thousand stock lines against every state, and one finding through ASGI.

    python -m tests.benchmarks.bench_stock

Baseline: reading and writing the same CSV with the csv module, in the same run. Names are those of
    the catalogue, with sizes, slips of one letter
(seeded) and lines that nobody can name.
"""

import asyncio
import csv
import io
import random
import resource
import statistics
import tempfile
import time
from datetime import date
from pathlib import Path

import httpx

from data_loaders.reference_store import load_reference
from service.api.app import create_app
from service.checks.stock import StockChecker, StockQuestion
from service.input.stock_table import read_stock
from service.output.csv import stock_csv
from service.store.database import Build
from service.store.library import Library
from service.values.vocabulary import STATES

LINES = 10_000


def stock(library: Library) -> bytes:
    """A stock list of the size asked about, seeded."""
    chance = random.Random(20260601)
    names = [name.name for name in library.names if name.kind != "misspelling"]
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(["sku", "label", "size", "price"])
    for number in range(LINES):
        label = chance.choice(names)
        if chance.random() < 0.1:
            spot = chance.randrange(len(label))
            label = label[:spot] + chance.choice("aeioubcdnrst") + label[spot + 1 :]
        if chance.random() < 0.02:
            label = "".join(chance.choices("abcdefghiklmnoprstu ", k=12))
        writer.writerow(
            [
                f"S{number}",
                f"{label} {chance.choice(['', '4in', '1 gal', 'bunch'])}".strip(),
                "4in",
                "3.50",
            ]
        )
    return buffer.getvalue().encode()


def check(library: Library, content: bytes, question: StockQuestion) -> int:
    table = read_stock(content)
    lines = StockChecker(library, question).check(table.names)
    return sum(len(piece) for piece in stock_csv(table, lines, question))


def bare(content: bytes) -> int:
    rows = list(csv.reader(io.StringIO(content.decode(), newline="")))
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.tell()


def timed(function: object, *arguments: object) -> float:
    start = time.perf_counter()
    function(*arguments)  # type: ignore[operator]
    return time.perf_counter() - start


async def requests(path: Path, count: int = 400) -> list[float]:
    """Seconds of single findings through ASGI."""
    transport = httpx.ASGITransport(app=create_app(path))
    seconds = []
    async with httpx.AsyncClient(transport=transport, base_url="http://test") as client:
        for number in range(count):
            params = {
                "label": ["water hyacinth", "Trapa natans", "Iris", "Nymphaea 'Attraction'"][
                    number % 4
                ],
                "jurisdiction": STATES[number % len(STATES)],
            }
            start = time.perf_counter()
            (await client.get("/v1/findings", params=params)).raise_for_status()
            seconds.append(time.perf_counter() - start)
    return sorted(seconds)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.db"
        load_reference(path)
        library = Library(Build(path))
        content = stock(library)
        _ = library.law, library.taxonomy, library.resolver.resolve("Trapa natans")
        on = date(2026, 6, 1)
        plain = StockQuestion(STATES, ("sell",), on)
        shipped = StockQuestion(STATES, ("sell",), on, origin=STATES[0])
        baseline = statistics.median(timed(bare, content) for _ in range(5))
        for title, question in (("sell", plain), ("sell, with lanes from one state", shipped)):
            runs = [timed(check, library, content, question) for _ in range(3)]
            print(
                f"{LINES:,} lines x {len(STATES)} places x {title}: {statistics.median(runs):.2f} s, {statistics.median(runs) / baseline:,.0f}x the csv module ({baseline * 1000:.0f} ms)"
            )
        print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
        seconds = asyncio.run(requests(path))[:]
        print(
            f"one finding through ASGI: median {statistics.median(seconds) * 1000:.1f} ms, p99 {seconds[int(len(seconds) * 0.99)] * 1000:.1f} ms"
        )


if __name__ == "__main__":
    main()
