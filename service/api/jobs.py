"""Long work in the background: a bounded set of jobs in memory, with progress, result and removal.

Jobs live as long as the process. One worker process keeps its own; behind several, a client has to
come back to the same one.
"""

import logging
import secrets
import threading
from collections import Counter
from collections.abc import Callable
from contextvars import Context
from dataclasses import dataclass, field
from queue import SimpleQueue
from typing import Generic, Literal, TypeVar

from service.errors import NotFound, ReedgateError

State = Literal["waiting", "running", "done", "failed", "cancelled"]
FINISHED: frozenset[State] = frozenset({"done", "failed", "cancelled"})

T = TypeVar("T")
Work = Callable[[Callable[[int, int], None]], T]
"""Work that reports how much is done, of how much."""


_log = logging.getLogger("reedgate.failures")


class TooManyJobs(ReedgateError):
    """As many jobs are under way as are taken."""

    title = "The service is busy"


class _Cancelled(Exception):
    """Raised inside the work when somebody has given it up."""


@dataclass
class Job(Generic[T]):
    """One piece of work.

    Attributes:
        done, total: of its parts; 0 of 0 before it has begun.
        error: why it failed.
    """

    job_id: str
    state: State = "waiting"
    done: int = 0
    total: int = 0
    result: T | None = None
    error: ReedgateError | None = None
    _stop: threading.Event = field(default_factory=threading.Event)

    @property
    def finished(self) -> bool:
        return self.state in FINISHED


class Jobs(Generic[T]):
    """Jobs by id. Finished ones are kept until newer ones need their room.

    Args:
        at_once: jobs worked on at the same time; others wait.
        keep: jobs held in all. When all of them are unfinished, no more are taken.
    """

    def __init__(self, *, at_once: int = 1, keep: int = 20) -> None:
        self._keep = keep
        self._jobs: dict[str, Job[T]] = {}
        self._lock = threading.Lock()
        self._waiting: SimpleQueue[tuple[Job[T], Work[T]]] = SimpleQueue()
        self._at_once = at_once
        self._workers = 0

    def start(self, work: Work[T]) -> Job[T]:
        """Take up work.

        Raises:
            TooManyJobs: there is no room.
        """
        with self._lock:
            self._make_room()
            job: Job[T] = Job(secrets.token_urlsafe(12))
            self._jobs[job.job_id] = job
            self._waiting.put((job, work))
            if self._workers < self._at_once:
                self._workers += 1
                # Daemons, so that a service told to stop need not wait for them; a job changes
                # nothing that could be left half done.
                threading.Thread(
                    target=self._work, name=f"job-{self._workers}", daemon=True
                ).start()
        return job

    def get(self, job_id: str) -> Job[T]:
        """A job.

        Raises:
            NotFound: there is none of that id, or it made room for newer ones.
        """
        job = self._jobs.get(job_id)
        if job is None:
            raise NotFound(
                f"No job has the id {job_id!r}.",
                next_step="It may have made room for newer ones; send the request again.",
            )
        return job

    def counts(self) -> dict[str, int]:
        """Jobs by state."""
        return dict(Counter(job.state for job in list(self._jobs.values())))

    def cancel(self, job_id: str) -> None:
        """Give a job up and forget it.

        Raises:
            NotFound: there is none of that id.
        """
        job = self.get(job_id)
        job._stop.set()
        with self._lock:
            self._jobs.pop(job_id, None)

    def _work(self) -> None:
        while True:
            job, work = self._waiting.get()
            # A fresh context: the deadline and the day of the request that began it are not the
            # job's.
            Context().run(self._run, job, work)

    def _make_room(self) -> None:
        if len(self._jobs) < self._keep:
            return
        oldest = next((job for job in self._jobs.values() if job.finished), None)
        if oldest is None:
            raise TooManyJobs(
                f"{self._keep} jobs are under way, which is as many as are taken.",
                next_step="Come back in a minute.",
            )
        del self._jobs[oldest.job_id]

    @staticmethod
    def _run(job: Job[T], work: Work[T]) -> None:
        def progress(done: int, total: int) -> None:
            if job._stop.is_set():
                raise _Cancelled
            job.done, job.total = done, total

        if job._stop.is_set():
            job.state = "cancelled"
            return
        job.state = "running"
        try:
            job.result = work(progress)
            job.state = "done"
        except _Cancelled:
            job.state = "cancelled"
        except ReedgateError as error:
            job.error, job.state = error, "failed"
        except Exception:
            _log.exception("a job failed")
            job.error, job.state = (
                ReedgateError("The work failed; the operator's log says why."),
                "failed",
            )
