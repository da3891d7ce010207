"""The most memory that one request makes a worker hold, for the largest of each kind that the limits
let through, and for some that they refuse.

    python -m tests.benchmarks.measure_memory

Each request has a worker of its own, over the demo's store. Memory is the peak of the process
(``VmHWM``) less what it held before the request.
"""

import itertools
import json
import re
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

import httpx
from openpyxl import Workbook
from rich.console import Console
from rich.table import Table

from data_loaders.reference_store import load_demo
from service.values.vocabulary import ACTS, STATES
from tests.benchmarks.bench_service import labels_of
from tests.service.api.serving import Served, served

_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_ALL = ",".join(STATES)
DEMO = Path("demo_data/plans")


@dataclass
class Asked:
    """One request of the measurement."""

    name: str
    path: str
    body: bytes = b""
    headers: dict[str, str] = field(default_factory=dict)
    form: dict[str, Any] | None = None


def labels(store: Path, count: int) -> list[str]:
    names = labels_of(store)
    return [f"{name} {number}" for number, name in zip(range(count), itertools.cycle(names))]


def requests(store: Path) -> Iterator[Asked]:
    """The largest of each kind that the limits let through, and some beyond."""
    yield _matrix(store, 3_000, 10)
    yield _matrix(store, 1_900, 10)
    yield _matrix(store, 19_000, 1)
    long_list = "label\r\n" + "\r\n".join(labels(store, 19_000))
    for kind in ("text/csv", _XLSX):
        yield Asked(
            f"stock, 19,000 lines x 51, text in, {kind.rsplit('.')[-1]} out",
            f"/v1/stock-checks?to={_ALL}",
            long_list.encode(),
            {"Content-Type": "text/csv", "Accept": kind},
        )
    yield Asked(
        "stock, 19,000 lines x 51, workbook in and out",
        f"/v1/stock-checks?to={_ALL}",
        _workbook(labels(store, 19_000)),
        {"Content-Type": _XLSX, "Accept": _XLSX},
    )
    form = {"plants": "\n".join(labels(store, 10_000)), "to": list(STATES), "act": ["sell"]}
    for path, extra in (("/list", {}), ("/list/rows", {}), ("/list/file", {"as": "xlsx"})):
        yield Asked(f"page {path}, 10,000 lines x 51", path, form=form | extra)
    yield Asked("page /list, 10,000 x 51 x 10", "/list", form=form | {"act": list(ACTS)})
    plan = json.loads((DEMO / "heron_bend_plan.json").read_text())
    for form_out in ("application/json", "text/html", "application/geo+json"):
        yield Asked(
            f"plan, 500 plantings, explained, {form_out}",
            "/v1/plan-checks?explain=true",
            json.dumps(_larger(plan, labels(store, 500))).encode(),
            {"Content-Type": "application/json", "Accept": form_out},
        )
    community = json.loads((DEMO / "ferrow_community.geojson").read_text())
    for count in (400, 10_000):
        yield Asked(
            f"community, {count:,} plantings",
            "/v1/community-screenings",
            json.dumps(_many_sites(community, labels(store, count))).encode(),
            {"Content-Type": "application/geo+json"},
        )


def _matrix(store: Path, lines: int, acts: int) -> Asked:
    body = {"labels": labels(store, lines), "to": list(STATES), "act": list(ACTS[:acts])}
    name = f"stock, {lines:,} labels x 51 x {acts}, JSON"
    return Asked(
        name, "/v1/stock-checks", json.dumps(body).encode(), {"Content-Type": "application/json"}
    )


def _workbook(rows: list[str]) -> bytes:
    book = Workbook(write_only=True)
    sheet = book.create_sheet("stock")
    for row in ("label", *rows):
        sheet.append([row])
    buffer = BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _larger(plan: dict[str, Any], names: list[str]) -> dict[str, Any]:
    given = plan["plantings"]
    plan["plantings"] = [
        {**planting, "label": name} for name, planting in zip(names, itertools.cycle(given))
    ]
    for planting in plan["plantings"]:
        planting.pop("id", None)
    return plan


def _many_sites(document: dict[str, Any], names: list[str]) -> dict[str, Any]:
    sites = [one for one in document["features"] if "plantings" in one["properties"]]
    others = [one for one in document["features"] if "plantings" not in one["properties"]]
    made = []
    for start, site in zip(range(0, len(names), 5), itertools.cycle(sites)):
        plantings = [{"label": name} for name in names[start : start + 5]]
        properties = {**site["properties"], "name": f"site {start}", "plantings": plantings}
        made.append({"type": "Feature", "geometry": site["geometry"], "properties": properties})
    return {**document, "features": [*made, *others]}


def memory_mb(running: Served, what: str) -> float:
    status = Path(f"/proc/{running.process.pid}/status").read_text()
    found = re.search(rf"{what}:\s+(\d+) kB", status)
    assert found, status
    return int(found[1]) / 1e3


def ask(running: Served, asked: Asked) -> tuple[int, int, float]:
    """Status, bytes and seconds of an answer; a job is followed to its end."""
    began, size = time.perf_counter(), 0
    body: dict[str, Any] = (
        {"data": asked.form, "files": {"file": ("", b"")}}
        if asked.form is not None
        else {"content": asked.body}
    )
    with httpx.stream(
        "POST", running.url + asked.path, headers=asked.headers, timeout=600, **body
    ) as answer:
        for piece in answer.iter_raw():
            size += len(piece)
    status = answer.status_code
    while status == 202:
        time.sleep(0.5)
        status = httpx.get(running.url + answer.headers["Location"], timeout=60).status_code
    return answer.status_code, size, time.perf_counter() - began


def main() -> None:
    table = Table("request", "kB sent", "status", "MB answered", "seconds", "MB before", "MB more")
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "reedgate.db"
        load_demo(store)
        for asked in requests(store):
            with served(store) as running:
                finding = f"{running.url}/v1/findings?label=Typha&jurisdiction=US-OH"
                httpx.get(finding, timeout=60).raise_for_status()
                before = memory_mb(running, "VmHWM")
                try:
                    status, size, seconds = ask(running, asked)
                    row = [str(status), f"{size / 1e6:.1f}", f"{seconds:.1f}"]
                except httpx.HTTPError as error:
                    row = [type(error).__name__, "", ""]
                more = memory_mb(running, "VmHWM") - before
                sent = f"{len(asked.body) / 1e3:,.0f}"
                table.add_row(asked.name, sent, *row, f"{before:.0f}", f"{more:.0f}")
    Console(width=130).print(table)


if __name__ == "__main__":
    main()
