"""Jobs in both of their homes: a file, and PostgreSQL. What one process begins, every other finds."""

import json
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from service.errors import BadRequest, NotFound
from service.shared.database import Database, DatabaseOutdated
from service.shared.jobs import JobHome, Progress, TooManyJobs
from service.shared.jobs_file import JobFile
from service.shared.jobs_postgres import JobDatabase
from tests.outside import postgresql_database

SILENT_S = 2.0
OPEN: list[Database] = []


@pytest.fixture(scope="module")
def database_url() -> Iterator[str]:
    with postgresql_database() as url:
        database = Database(url)
        database.migrate()
        database.close()
        yield url


@pytest.fixture(params=["file", "database"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where jobs are kept: a path, or an address."""
    if request.param == "file":
        yield str(tmp_path / "jobs.db")
        return
    url: str = request.getfixturevalue("database_url")
    yield url
    database = Database(url)
    with database.connection() as connection:
        connection.execute("TRUNCATE reedgate_job CASCADE")
        connection.execute("TRUNCATE procrastinate_jobs, procrastinate_workers CASCADE")
    database.close()


def home_at(place: str, **limits: float) -> JobHome:
    """A home of its own, as another process would have it."""
    limits = {"silent_s": SILENT_S, **limits}
    if place.startswith("postgresql:"):
        OPEN.append(Database(place))
        return JobDatabase(OPEN[-1], **limits)  # type: ignore[arg-type]
    return JobFile(Path(place), **limits)  # type: ignore[arg-type]


@pytest.fixture
def homes(place: str) -> Iterator[Callable[..., JobHome]]:
    made: list[JobHome] = []

    def make(**limits: float) -> JobHome:
        made.append(home_at(place, **limits))
        return made[-1]

    yield make
    for home in made:
        home.stop()
    while OPEN:
        OPEN.pop().close()


def until(condition: Callable[[], bool], within_s: float = 60) -> None:
    end = time.monotonic() + within_s
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.05)


def shout(task: bytes, progress: Progress) -> dict[str, bytes]:
    progress(1, 1)
    return {"text/plain": task.upper(), "application/json": json.dumps(task.decode()).encode()}


def test_a_job_is_found_by_every_process_and_done_once(homes: Callable[..., JobHome]) -> None:
    begun, worker, other = homes(), homes(), homes()
    done: list[bytes] = []

    def perform(task: bytes, progress: Progress) -> dict[str, bytes]:
        done.append(task)
        return shout(task, progress)

    jobs = [begun.add(f"task {number}".encode()).job_id for number in range(5)]
    assert other.get(jobs[0]).state == "waiting"
    worker.work(perform)
    other.work(perform)
    until(lambda: all(begun.get(job).state == "done" for job in jobs))
    for number, job in enumerate(jobs):
        for home in (begun, worker, other):
            assert home.answer(job, "text/plain") == f"TASK {number}".encode()
            assert home.answer(job, "application/json") == f'"task {number}"'.encode()
            assert home.answer(job, "text/csv") is None
    assert sorted(done) == [f"task {number}".encode() for number in range(5)]
    assert begun.counts() == {"done": 5}


def test_a_job_says_how_far_it_has_come_and_why_it_failed(homes: Callable[..., JobHome]) -> None:
    go, worker, other = threading.Event(), homes(), homes()

    def perform(task: bytes, progress: Progress) -> dict[str, bytes]:
        progress(1, 3)
        go.wait(60)
        raise BadRequest("no such place", pointer="/features/0", next_step="Look at it.")

    job = other.add(b"x").job_id
    worker.work(perform)
    until(lambda: other.get(job).done == 1)
    assert (other.get(job).state, other.get(job).total) == ("running", 3)
    go.set()
    until(lambda: other.get(job).finished)
    error = other.get(job).error
    assert isinstance(error, BadRequest)
    assert (error.detail, error.pointer, error.next_step) == (
        "no such place",
        "/features/0",
        "Look at it.",
    )
    assert other.answer(job, "text/plain") is None


def test_an_unforeseen_failure_leaves_the_next_job_its_worker(
    homes: Callable[..., JobHome],
) -> None:
    home = homes()

    def perform(task: bytes, progress: Progress) -> dict[str, bytes]:
        if task == b"broken":
            raise ZeroDivisionError
        return shout(task, progress)

    home.work(perform)
    failed, after = home.add(b"broken").job_id, home.add(b"after").job_id
    until(lambda: home.get(after).finished and home.get(failed).finished)
    assert home.get(after).state == "done"
    error = home.get(failed).error
    assert error is not None
    assert "log" in error.detail


def test_a_job_given_up_elsewhere_stops_at_its_next_step_and_is_forgotten(
    homes: Callable[..., JobHome],
) -> None:
    worker, other = homes(), homes()
    going, ended = threading.Event(), threading.Event()

    def perform(task: bytes, progress: Progress) -> dict[str, bytes]:
        try:
            for step in range(10_000):
                progress(step, 10_000)
                going.set()
                time.sleep(0.02)
        finally:
            ended.set()
        return {}

    worker.work(perform)
    job = other.add(b"long").job_id
    assert going.wait(60)
    other.cancel(job)
    assert ended.wait(60)
    for home in (worker, other):
        with pytest.raises(NotFound):
            home.get(job)
        with pytest.raises(NotFound):
            home.cancel(job)


def test_more_jobs_than_are_taken_are_refused_by_every_process(
    homes: Callable[..., JobHome],
) -> None:
    one, other = homes(most=2), homes(most=2)
    first = one.add(b"1").job_id
    other.add(b"2")
    for home in (one, other):
        with pytest.raises(TooManyJobs):
            home.add(b"3")
    one.cancel(first)
    other.add(b"3")


def test_a_finished_job_expires_and_its_answers_with_it(homes: Callable[..., JobHome]) -> None:
    home, brief = homes(), homes(kept_s=0.0)
    home.work(shout)
    job = home.add(b"x").job_id
    until(lambda: home.get(job).finished)
    with pytest.raises(NotFound):
        brief.get(job)
    brief.add(b"y")  # which takes away what is over
    assert home.answer(job, "text/plain") is None
    with pytest.raises(NotFound):
        home.get(job)


def test_an_id_cannot_be_guessed_from_another(homes: Callable[..., JobHome]) -> None:
    home = homes()
    ids = {home.add(b"x").job_id for _ in range(10)}
    assert len(ids) == 10
    assert all(len(job) >= 16 for job in ids)


def _begin_and_hang(place: str, mark: Path) -> None:
    def perform(task: bytes, progress: Progress) -> dict[str, bytes]:
        progress(1, 4)
        with mark.open("a") as stream:
            stream.write("begun\n")
        time.sleep(600)
        return {}

    home_at(place).work(perform)
    time.sleep(600)


def _killed_in_the_middle(place: str, mark: Path) -> None:
    before = mark.read_text().count("begun") if mark.exists() else 0
    process = multiprocessing.get_context("spawn").Process(
        target=_begin_and_hang, args=(place, mark)
    )
    process.start()
    until(lambda: mark.exists() and mark.read_text().count("begun") > before, within_s=120)
    assert process.pid is not None
    os.kill(process.pid, signal.SIGKILL)
    process.join()


def test_a_job_whose_worker_was_killed_is_taken_up_again_once(
    place: str, homes: Callable[..., JobHome], tmp_path: Path
) -> None:
    home = homes()
    saved, lost = home.add(b"saved").job_id, ""
    _killed_in_the_middle(place, tmp_path / "mark")
    assert home.get(saved).state == "running"
    worker = homes()
    worker.work(shout)
    until(lambda: home.get(saved).finished)
    assert home.answer(saved, "text/plain") == b"SAVED"
    worker.stop()
    # One that ends its process each time is not begun a third time.
    lost = home.add(b"lost").job_id
    for _ in range(2):
        _killed_in_the_middle(place, tmp_path / "mark")
    last = homes()
    last.work(shout)
    until(lambda: home.get(lost).finished)
    error = home.get(lost).error
    assert error is not None
    assert "2 times" in error.detail


def test_a_worker_that_is_told_to_stop_leaves_its_job_to_another(
    homes: Callable[..., JobHome],
) -> None:
    home, going = homes(silent_s=120.0), threading.Event()

    def slow(task: bytes, progress: Progress) -> dict[str, bytes]:
        while True:
            progress(1, 2)
            going.set()
            time.sleep(0.02)

    home.work(slow)
    job = home.add(b"moved").job_id
    assert going.wait(60)
    home.stop()
    # Long before the silence by which a dead worker is known.
    other = homes(silent_s=120.0)
    other.work(shout)
    until(lambda: other.get(job).state == "done")


def test_a_database_without_its_tables_says_how_to_make_them() -> None:
    with postgresql_database() as url:
        database = Database(url)
        with pytest.raises(DatabaseOutdated) as raised:
            JobDatabase(database).counts()
        assert "reedgate database migrate" in raised.value.next_step
        assert database.missing_migrations() == database.migrate()
        assert not database.missing_migrations()
        assert not database.migrate()
        assert JobDatabase(database).counts() == {}
        database.close()
