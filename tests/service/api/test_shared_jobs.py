"""Jobs of a service with several workers, and of several services with one database."""

import os
import signal
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import httpx
import pytest

from service.api.examples import examples
from service.shared.database import Database
from tests.outside import postgresql_database
from tests.service.api.serving import Served, served
from tests.stores import copied, demo_store


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return copied(demo_store(), tmp_path / "reedgate.db")


@pytest.fixture(params=["workers", "servers"])
def services(request: pytest.FixtureRequest, store: Path) -> Iterator[list[Served]]:
    """One service of three workers and no database; or two services, which share one."""
    with ExitStack() as stack:
        if request.param == "workers":
            yield [stack.enter_context(served(store, workers=3))]
            return
        url = stack.enter_context(postgresql_database())
        database = Database(url)
        database.migrate()
        database.close()
        yield [stack.enter_context(served(store, database_url=url)) for _ in range(2)]


def begin(service: Served) -> str:
    answer = httpx.post(
        f"{service.url}/v1/community-screenings?begin=true",
        content=examples()["screen_community"][0].body,
        timeout=60,
    )
    assert answer.status_code == 202, answer.text
    return answer.headers["Location"]


def poll(service: Served, address: str) -> httpx.Response:
    # A connection of its own each time, so that every worker gets its share.
    return httpx.get(f"{service.url}{address}", headers={"Connection": "close"}, timeout=60)


def finished(services: list[Served], address: str, within_s: float = 120) -> None:
    end = time.monotonic() + within_s
    while True:
        answers = [poll(service, address) for service in services]
        assert {answer.status_code for answer in answers} <= {200, 202}
        if all(answer.status_code == 200 for answer in answers):
            assert {answer.json()["state"] for answer in answers} == {"done"}
            return
        assert time.monotonic() < end
        time.sleep(0.1)


def test_no_worker_and_no_server_misses_a_job_that_another_began(services: list[Served]) -> None:
    addresses = [begin(service) for service in services for _ in range(3)]
    codes = [
        poll(services[number % len(services)], addresses[number % len(addresses)]).status_code
        for number in range(60)
    ]
    assert set(codes) <= {200, 202}
    for address in addresses:
        finished(services, address)
    for form in ("application/json", "text/csv", "text/html", "application/geo+json"):
        contents = {
            httpx.get(
                f"{service.url}{addresses[0]}/result", headers={"Accept": form}, timeout=60
            ).content
            for service in services
        }
        assert len(contents) == 1
        assert len(contents.pop()) > 500
    gone = httpx.delete(f"{services[0].url}{addresses[0]}", timeout=60)
    assert gone.json()["state"] == "cancelled"
    assert {poll(service, addresses[0]).status_code for service in services} == {404}


def test_a_service_that_is_killed_leaves_its_jobs_to_the_next(store: Path) -> None:
    with served(store) as first:
        address = begin(first)
        os.kill(first.process.pid, signal.SIGKILL)
        first.process.wait()
    with served(store) as second:
        finished([second], address)
        assert poll(second, f"{address}/result").status_code == 200
