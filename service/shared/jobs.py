"""Long work that is begun in one request and asked after in others, by whichever process they come
to.

A task is bytes and its answers are bytes, one for each media type, so that nothing but the home of
the jobs is shared between the process that takes a job, the one that does it, and the one that is
asked for its answer.
"""

import logging
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from service.errors import (
    BadRequest,
    NotFound,
    ReedgateError,
    SharedAway,
    StoreError,
    TookTooLong,
)

State = Literal["waiting", "running", "done", "failed"]

MOST_UNDER_WAY = 20
"""Jobs that wait or run at the same time, of all servers; more are not taken."""
KEPT_S = 3_600.0
"""How long a finished job and its answers are kept."""
MOST_BEGINNINGS = 2
"""A job whose worker died is taken up again, once: a job that kills its workers must end."""
SILENT_S = 20.0
"""A worker that has said nothing for so long is taken for dead (common practice, no source)."""
_BETWEEN_ADVANCES_S = 0.25
_KEEPING_TRIES = 20
_BETWEEN_TRIES_S = 3.0

Progress = Callable[[int, int], None]
"""Says how many parts are done, of how many."""
Answers = Mapping[str, bytes]
"""By media type."""
Perform = Callable[[bytes, Progress], Answers]
"""Does a task."""

_log = logging.getLogger("reedgate.failures")


class TooManyJobs(ReedgateError):
    """As many jobs are under way as are taken."""

    title = "The service is busy"


class JobsAway(SharedAway):
    """The home of the jobs cannot be used."""

    title = "The jobs cannot be reached"


class Cancelled(Exception):
    """Raised inside the work when somebody has given the job up."""


class Interrupted(Exception):
    """Raised inside the work when its process is told to stop."""


@dataclass(frozen=True)
class Job:
    """One job, as it is now.

    Attributes:
        done, total: of its parts; 0 of 0 before it has begun.
        error: why it failed.
    """

    job_id: str
    state: State
    done: int = 0
    total: int = 0
    error: ReedgateError | None = None

    @property
    def finished(self) -> bool:
        return self.state in ("done", "failed")


class JobRecords(Protocol):
    """What a worker says of the job that it does."""

    @property
    def is_stopping(self) -> bool:
        """Whether the worker was told to stop."""

    def begin(self, job_id: str) -> bytes | None:
        """Its task; None where it was cancelled, is finished, or was begun too often."""

    def advance(self, job_id: str, done: int, total: int) -> bool:
        """Note how far it has come. False where it was cancelled."""

    def finish(self, job_id: str, answers: Answers) -> None:
        """Keep its answers."""

    def fail(self, job_id: str, error: ReedgateError) -> None:
        """Keep why it failed."""

    def release(self, job_id: str) -> None:
        """Leave it to another worker; this beginning is not counted."""


class JobHome(JobRecords, Protocol):
    """Where jobs are kept. Every method raises ``SharedAway`` where it cannot be used."""

    def add(self, task: bytes) -> Job:
        """Take a task up; some worker will do it.

        Raises:
            TooManyJobs: as many are under way as are taken.
        """

    def get(self, job_id: str) -> Job:
        """A job.

        Raises:
            NotFound: there is none of that id, or it was cancelled, or its time is over.
        """

    def answer(self, job_id: str, media_type: str) -> bytes | None:
        """An answer of a finished job; None where there is none."""

    def cancel(self, job_id: str) -> None:
        """Give a job up and forget it.

        Raises:
            NotFound: there is none of that id.
        """

    def counts(self) -> dict[str, int]:
        """Jobs by state."""

    def work(self, perform: Perform) -> None:
        """Do jobs from now on, one after the other, in a thread of this process."""

    def stop(self) -> None:
        """Do no more jobs; the one under way is left for another worker."""


def run_job(records: JobRecords, job_id: str, perform: Perform) -> None:
    """Do a job that this worker has got hold of, and keep what came of it."""
    task = records.begin(job_id)
    if task is None:
        return
    said = float("-inf")

    def progress(done: int, total: int) -> None:
        nonlocal said
        if records.is_stopping:
            raise Interrupted
        now = time.monotonic()
        if now - said < _BETWEEN_ADVANCES_S and done < total:
            return
        said = now
        if not records.advance(job_id, done, total):
            raise Cancelled

    try:
        answers = perform(task, progress)
    except Cancelled:
        return
    except Interrupted:
        records.release(job_id)
    except SharedAway:
        raise  # the job is taken up again
    except ReedgateError as error:
        failure = error
        _kept(lambda: records.fail(job_id, failure))
    except Exception:
        _log.exception("a job failed")
        unforeseen = ReedgateError("The work failed; the operator's log says why.")
        _kept(lambda: records.fail(job_id, unforeseen))
    else:
        _kept(lambda: records.finish(job_id, answers))


def _kept(keep: Callable[[], None]) -> None:
    """Keep what came of the work, also where the home of the jobs is away for a moment."""
    for _ in range(_KEEPING_TRIES):
        try:
            keep()
        except SharedAway as error:
            _log.warning("what came of a job cannot be kept yet: %s", error)
            time.sleep(_BETWEEN_TRIES_S)
        else:
            return
    keep()


def worker_died() -> ReedgateError:
    """Why a job failed that ended its workers."""
    return ReedgateError(
        f"The work was begun {MOST_BEGINNINGS} times, and each time its process ended.",
        next_step="Send it in parts, or ask the operator.",
    )


def too_many(most: int) -> TooManyJobs:
    """As many jobs are under way as are taken."""
    return TooManyJobs(
        f"{most} jobs are under way, which is as many as are taken.",
        next_step="Come back in a minute.",
    )


def no_such_job(job_id: str) -> NotFound:
    """No job has the id."""
    return NotFound(
        f"No job has the id {job_id!r}.",
        next_step="It may have been cancelled, or its time may be over; send the request again.",
    )


_KINDS: dict[str, type[ReedgateError]] = {
    kind.__name__: kind for kind in (BadRequest, NotFound, TookTooLong, StoreError, ReedgateError)
}


def error_to_text(error: ReedgateError) -> dict[str, str]:
    """An error as it is kept."""
    kind = next(name for name, kind in _KINDS.items() if isinstance(error, kind))
    return {
        "kind": kind,
        "detail": error.detail,
        "next_step": error.next_step,
        "pointer": error.pointer if isinstance(error, BadRequest) else "",
    }


def error_of_text(kept: Mapping[str, str]) -> ReedgateError:
    """The error that was kept."""
    if kept["kind"] == "BadRequest":
        return BadRequest(kept["detail"], pointer=kept["pointer"], next_step=kept["next_step"])
    kind = _KINDS.get(kept["kind"], ReedgateError)
    return kind(kept["detail"], next_step=kept["next_step"])
