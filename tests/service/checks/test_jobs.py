"""Jobs: progress, results, failures, room."""

import threading
import time
from collections.abc import Callable

import pytest

from service.api.jobs import Job, Jobs, TooManyJobs
from service.errors import BadRequest, NotFound


def waited(job: Job[str], until: Callable[[Job[str]], bool] = lambda job: job.finished) -> Job[str]:
    end = time.monotonic() + 5
    while not until(job) and time.monotonic() < end:
        time.sleep(0.002)
    assert until(job), job.state
    return job


def test_a_job_tells_how_far_it_has_come_and_keeps_its_result() -> None:
    go, jobs = threading.Event(), Jobs[str]()

    def work(progress: Callable[[int, int], None]) -> str:
        progress(1, 2)
        go.wait(5)
        return "answer"

    job = jobs.start(work)
    waited(job, lambda job: job.done == 1)
    assert (job.state, job.total, job.result) == ("running", 2, None)
    go.set()
    assert waited(job).result == "answer"
    assert jobs.get(job.job_id) is job


def test_a_job_that_fails_says_why() -> None:
    jobs = Jobs[str]()

    def work(progress: Callable[[int, int], None]) -> str:
        raise BadRequest("no such place")

    job = waited(jobs.start(work))
    assert job.state == "failed"
    assert job.error is not None
    assert job.error.detail == "no such place"


def test_a_job_given_up_stops_at_its_next_step_and_is_forgotten() -> None:
    go, jobs = threading.Event(), Jobs[str]()

    def work(progress: Callable[[int, int], None]) -> str:
        go.wait(5)
        progress(1, 2)
        return "never"

    job = jobs.start(work)
    waited(job, lambda job: job.state == "running")
    jobs.cancel(job.job_id)
    go.set()
    assert waited(job).state == "cancelled"
    with pytest.raises(NotFound):
        jobs.get(job.job_id)


def test_finished_jobs_make_room_and_unfinished_ones_do_not() -> None:
    go, jobs = threading.Event(), Jobs[str](keep=2)
    first = waited(jobs.start(lambda progress: "first"))
    slow = jobs.start(lambda progress: "slow" if go.wait(5) else "late")
    jobs.start(lambda progress: "third")
    with pytest.raises(NotFound):
        jobs.get(first.job_id)
    with pytest.raises(TooManyJobs):
        jobs.start(lambda progress: "fourth")
    go.set()
    assert waited(slow).result == "slow"


def test_an_id_cannot_be_guessed_from_another() -> None:
    jobs = Jobs[str]()
    ids = {jobs.start(lambda progress: "x").job_id for _ in range(10)}
    assert len(ids) == 10
    assert all(len(each) >= 16 for each in ids)


def test_a_job_that_fails_unforeseen_leaves_the_next_its_worker() -> None:
    jobs = Jobs[str]()

    def broken(progress: Callable[[int, int], None]) -> str:
        raise ZeroDivisionError

    failed, after = jobs.start(broken), jobs.start(lambda progress: "after")
    assert waited(after).result == "after"
    assert failed.state == "failed"
    assert failed.error is not None
    assert "log" in failed.error.detail
