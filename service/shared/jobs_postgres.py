"""Jobs in PostgreSQL, for the servers of several machines.

The queue is procrastinate's: who does which job next, who is alive, which job lost its worker. How
far a job has come and its answers are kept in tables of our own, in the same transaction as the
queue where the job is added.
"""

import asyncio
import logging
import secrets
import threading
from contextlib import suppress
from contextvars import Context
from typing import Any

from service.errors import ReedgateError, SharedAway
from service.shared import jobs
from service.shared.database import Database, DatabaseAway
from service.shared.jobs import Answers, Job, Perform, run_job

_QUEUE = "reedgate"
_TASK = "reedgate.job"
_AGAIN_S = 5.0

_log = logging.getLogger(__name__)
# Every step of the queue is a line; ours say what an operator needs.
logging.getLogger("procrastinate").setLevel(logging.WARNING)


class JobDatabase:
    """Jobs in a database. See ``JobHome``.

    Args:
        silent_s: a worker that has said nothing for so long is taken for dead.
    """

    def __init__(
        self,
        database: Database,
        *,
        most: int = jobs.MOST_UNDER_WAY,
        kept_s: float = jobs.KEPT_S,
        silent_s: float = jobs.SILENT_S,
    ) -> None:
        import procrastinate
        from psycopg.types.json import Jsonb

        self._database = database
        self._most = most
        self._kept_s = kept_s
        self._silent_s = silent_s
        self._json = Jsonb
        self._procrastinate = procrastinate
        self._queue = procrastinate.App(connector=procrastinate.SyncPsycopgConnector())
        self._is_working = False
        self._stopped = False
        self._loop: asyncio.AbstractEventLoop | None = None
        self._run: asyncio.Task[None] | None = None

    def add(self, task: bytes) -> Job:
        """See ``JobHome``."""
        job_id = secrets.token_urlsafe(12)
        with self._database.connection() as connection:
            # Adding takes turns, so that servers together keep to the limit.
            connection.execute("LOCK TABLE reedgate_job IN SHARE ROW EXCLUSIVE MODE")
            self._expire(connection)
            (under_way,) = connection.execute(
                "SELECT count(*) FROM reedgate_job WHERE state IN ('waiting', 'running')"
            ).fetchone()
            if under_way >= self._most:
                raise jobs.too_many(self._most)
            connection.execute(
                "INSERT INTO reedgate_job (job_id, state, task) VALUES (%s, 'waiting', %s)",
                (job_id, task),
            )
            self._enqueue(connection, job_id)
        return Job(job_id, "waiting")

    def get(self, job_id: str) -> Job:
        """See ``JobHome``."""
        with self._database.connection() as connection:
            row = connection.execute(
                "SELECT job_id, state, done, total, error FROM reedgate_job WHERE job_id = %s"
                " AND (state IN ('waiting', 'running')"
                " OR changed > now() - make_interval(secs => %s))",
                (job_id, self._kept_s),
            ).fetchone()
        if row is None:
            raise jobs.no_such_job(job_id)
        job_id, state, done, total, error = row
        return Job(job_id, state, done, total, jobs.error_of_text(error) if error else None)

    def answer(self, job_id: str, media_type: str) -> bytes | None:
        """See ``JobHome``."""
        with self._database.connection() as connection:
            row = connection.execute(
                "SELECT content FROM reedgate_job_answer WHERE job_id = %s AND media_type = %s",
                (job_id, media_type),
            ).fetchone()
        return bytes(row[0]) if row else None

    def cancel(self, job_id: str) -> None:
        """See ``JobHome``."""
        with self._database.connection() as connection:
            gone = connection.execute("DELETE FROM reedgate_job WHERE job_id = %s", (job_id,))
            if not gone.rowcount:
                raise jobs.no_such_job(job_id)

    def counts(self) -> dict[str, int]:
        """See ``JobHome``."""
        with self._database.connection() as connection:
            return dict(
                connection.execute(
                    "SELECT state, count(*) FROM reedgate_job GROUP BY state"
                ).fetchall()
            )

    def begin(self, job_id: str) -> bytes | None:
        """See ``JobRecords``."""
        with self._database.connection() as connection:
            row = connection.execute(
                "UPDATE reedgate_job SET state = 'running', begun = begun + 1, changed = now()"
                " WHERE job_id = %s AND state IN ('waiting', 'running') AND begun < %s"
                " RETURNING task",
                (job_id, jobs.MOST_BEGINNINGS),
            ).fetchone()
            if row is None:
                self._ended(connection, job_id, "failed", jobs.worker_died())
        return bytes(row[0]) if row else None

    def advance(self, job_id: str, done: int, total: int) -> bool:
        """See ``JobRecords``."""
        try:
            with self._database.connection() as connection:
                changed = connection.execute(
                    "UPDATE reedgate_job SET done = %s, total = %s, changed = now()"
                    " WHERE job_id = %s AND state = 'running'",
                    (done, total, job_id),
                )
                return bool(changed.rowcount)
        except DatabaseAway:
            return True  # the work goes on; what came of it is kept when the database is back

    def finish(self, job_id: str, answers: Answers) -> None:
        """See ``JobRecords``."""
        with self._database.connection() as connection:
            if self._ended(connection, job_id, "done", None):
                connection.cursor().executemany(
                    "INSERT INTO reedgate_job_answer VALUES (%s, %s, %s)",
                    [(job_id, media_type, content) for media_type, content in answers.items()],
                )

    def fail(self, job_id: str, error: ReedgateError) -> None:
        """See ``JobRecords``."""
        with self._database.connection() as connection:
            self._ended(connection, job_id, "failed", error)

    @property
    def is_stopping(self) -> bool:
        """See ``JobRecords``."""
        return self._stopped

    def release(self, job_id: str) -> None:
        """See ``JobRecords``."""
        with self._database.connection() as connection:
            released = connection.execute(
                "UPDATE reedgate_job SET state = 'waiting', begun = begun - 1"
                " WHERE job_id = %s AND state = 'running'",
                (job_id,),
            )
            if released.rowcount:  # the queue takes this worker's turn for done
                self._enqueue(connection, job_id)

    def work(self, perform: Perform) -> None:
        """See ``JobHome``."""
        if self._is_working:
            return
        self._is_working = True
        threading.Thread(target=self._do_jobs, args=(perform,), name="jobs", daemon=True).start()

    def stop(self) -> None:
        """See ``JobHome``."""
        self._stopped = True
        if self._loop is not None and self._run is not None:
            with suppress(RuntimeError):  # it has ended already
                self._loop.call_soon_threadsafe(self._run.cancel)

    def _do_jobs(self, perform: Perform) -> None:
        with suppress(asyncio.CancelledError):
            asyncio.run(self._work_on(perform))

    async def _work_on(self, perform: Perform) -> None:
        """Be a worker of the queue, again after each time that the database was away."""
        self._loop, self._run = asyncio.get_running_loop(), asyncio.current_task()
        while not self._stopped:
            app = self._procrastinate.App(
                connector=self._procrastinate.PsycopgConnector(
                    conninfo=self._database.url, min_size=1, max_size=4, timeout=_AGAIN_S
                )
            )

            @app.task(name=_TASK, queue=_QUEUE)
            def do(job_id: str) -> None:
                # A fresh context: nothing of a request is the job's.
                Context().run(run_job, self, job_id, perform)

            try:
                async with app.open_async():
                    again = asyncio.create_task(self._take_up_again(app.job_manager))
                    try:
                        await app.run_worker_async(
                            queues=[_QUEUE],
                            concurrency=1,
                            install_signal_handlers=False,
                            fetch_job_polling_interval=1.0,
                            update_heartbeat_interval=self._silent_s / 4,
                            stalled_worker_timeout=self._silent_s,
                            delete_jobs="always",
                        )
                    finally:
                        again.cancel()
            except Exception as error:  # whatever it was, the worker must come back
                _log.warning("the queue of the jobs cannot be worked on: %s", type(error).__name__)
            await asyncio.sleep(_AGAIN_S)

    async def _take_up_again(self, manager: Any) -> None:
        """Put the jobs of dead workers back into the queue. Every server looks; one of them
        succeeds.
        """
        while True:
            await asyncio.sleep(self._silent_s / 4)
            try:
                stalled = await manager.get_stalled_jobs(
                    queue=_QUEUE, seconds_since_heartbeat=self._silent_s
                )
                for job in stalled:
                    with suppress(self._procrastinate.exceptions.ConnectorException):
                        await manager.retry_job(job)
                await asyncio.to_thread(self._expire_now)
            except (self._procrastinate.exceptions.ConnectorException, SharedAway) as error:
                _log.warning(
                    "jobs of dead workers cannot be looked for now: %s", type(error).__name__
                )

    def _ended(self, connection: Any, job_id: str, state: str, error: ReedgateError | None) -> bool:
        ended = connection.execute(
            "UPDATE reedgate_job SET state = %s, error = %s, task = NULL, done = total,"
            " changed = now() WHERE job_id = %s AND state = 'running'",
            (state, self._json(jobs.error_to_text(error)) if error else None, job_id),
        )
        return bool(ended.rowcount)

    def _enqueue(self, connection: Any, job_id: str) -> None:
        self._queue.configure_task(_TASK, queue=_QUEUE, connection=connection).defer(job_id=job_id)

    def _expire_now(self) -> None:
        with self._database.connection() as connection:
            self._expire(connection)

    def _expire(self, connection: Any) -> None:
        connection.execute(
            "DELETE FROM reedgate_job WHERE state IN ('done', 'failed')"
            " AND changed <= now() - make_interval(secs => %s)",
            (self._kept_s,),
        )
