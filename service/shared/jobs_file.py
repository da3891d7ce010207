"""Jobs in a small SQLite file, for the processes of one machine."""

import json
import logging
import os
import secrets
import sqlite3
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import Context
from pathlib import Path

from service.errors import ReedgateError
from service.shared import jobs
from service.shared.jobs import Answers, Job, JobsAway, Perform, run_job

_TABLES = """
PRAGMA journal_mode = WAL;
CREATE TABLE IF NOT EXISTS job (
  job_id TEXT PRIMARY KEY,
  state TEXT NOT NULL CHECK (state IN ('waiting', 'running', 'done', 'failed')),
  done INTEGER NOT NULL DEFAULT 0,
  total INTEGER NOT NULL DEFAULT 0,
  task BLOB,              -- until it is finished
  error TEXT,             -- JSON
  added REAL NOT NULL,    -- seconds since 1970
  changed REAL NOT NULL,  -- when its worker last said something, or it was finished
  begun INTEGER NOT NULL DEFAULT 0,
  worker TEXT
);
CREATE TABLE IF NOT EXISTS answer (
  job_id TEXT NOT NULL REFERENCES job ON DELETE CASCADE,
  media_type TEXT NOT NULL,
  content BLOB NOT NULL,
  PRIMARY KEY (job_id, media_type)
) WITHOUT ROWID;
"""
_WAIT_S = 30.0
_LOOKS_EVERY_S = 0.5
_AGAIN_S = 5.0

_log = logging.getLogger(__name__)


class JobFile:
    """Jobs in a file. See ``JobHome``.

    Args:
        silent_s: a worker that has said nothing for so long is taken for dead.
    """

    def __init__(
        self,
        path: Path,
        *,
        most: int = jobs.MOST_UNDER_WAY,
        kept_s: float = jobs.KEPT_S,
        silent_s: float = jobs.SILENT_S,
    ) -> None:
        self.path = path
        self._most = most
        self._kept_s = kept_s
        self._silent_s = silent_s
        self._worker = secrets.token_hex(8)
        self._is_working = False
        self._made = False
        self._stop = threading.Event()
        self._added = threading.Event()

    def add(self, task: bytes) -> Job:
        """See ``JobHome``."""
        job_id, now = secrets.token_urlsafe(12), time.time()
        with self._changing() as db:
            self._expire(db, now)
            (under_way,) = db.execute(
                "SELECT count(*) FROM job WHERE state IN ('waiting', 'running')"
            ).fetchone()
            if under_way >= self._most:
                raise jobs.too_many(self._most)
            db.execute(
                "INSERT INTO job (job_id, state, task, added, changed)"
                " VALUES (?, 'waiting', ?, ?, ?)",
                (job_id, task, now, now),
            )
        self._added.set()
        return Job(job_id, "waiting")

    def get(self, job_id: str) -> Job:
        """See ``JobHome``."""
        with self._reading() as db:
            row = db.execute(
                "SELECT job_id, state, done, total, error FROM job WHERE job_id = ?"
                " AND (state IN ('waiting', 'running') OR changed > ?)",
                (job_id, time.time() - self._kept_s),
            ).fetchone()
        if row is None:
            raise jobs.no_such_job(job_id)
        job_id, state, done, total, error = row
        why = jobs.error_of_text(json.loads(error)) if error else None
        return Job(job_id, state, done, total, why)

    def answer(self, job_id: str, media_type: str) -> bytes | None:
        """See ``JobHome``."""
        with self._reading() as db:
            row = db.execute(
                "SELECT content FROM answer WHERE job_id = ? AND media_type = ?",
                (job_id, media_type),
            ).fetchone()
        return row[0] if row else None

    def cancel(self, job_id: str) -> None:
        """See ``JobHome``."""
        with self._changing() as db:
            if not db.execute("DELETE FROM job WHERE job_id = ?", (job_id,)).rowcount:
                raise jobs.no_such_job(job_id)

    def counts(self) -> dict[str, int]:
        """See ``JobHome``."""
        if not self.path.exists():
            return {}
        with self._reading() as db:
            return dict(db.execute("SELECT state, count(*) FROM job GROUP BY state").fetchall())

    def begin(self, job_id: str) -> bytes | None:
        """See ``JobRecords``."""
        with self._changing() as db:
            row = db.execute(
                "UPDATE job SET state = 'running', worker = ?, begun = begun + 1, changed = ?"
                " WHERE job_id = ? AND state IN ('waiting', 'running') AND begun < ?"
                " RETURNING task",
                (self._worker, time.time(), job_id, jobs.MOST_BEGINNINGS),
            ).fetchone()
        return row[0] if row else None

    def advance(self, job_id: str, done: int, total: int) -> bool:
        """See ``JobRecords``."""
        with self._changing() as db:
            changed = db.execute(
                "UPDATE job SET done = ?, total = ?, changed = ? WHERE job_id = ? AND worker = ?",
                (done, total, time.time(), job_id, self._worker),
            )
            return bool(changed.rowcount)

    def finish(self, job_id: str, answers: Answers) -> None:
        """See ``JobRecords``."""
        with self._changing() as db:
            if self._ended(db, job_id, "done", None):
                db.executemany(
                    "INSERT INTO answer VALUES (?, ?, ?)",
                    [(job_id, media_type, content) for media_type, content in answers.items()],
                )

    def fail(self, job_id: str, error: ReedgateError) -> None:
        """See ``JobRecords``."""
        with self._changing() as db:
            self._ended(db, job_id, "failed", json.dumps(jobs.error_to_text(error)))

    @property
    def is_stopping(self) -> bool:
        """See ``JobRecords``."""
        return self._stop.is_set()

    def release(self, job_id: str) -> None:
        """See ``JobRecords``."""
        with self._changing() as db:
            db.execute(
                "UPDATE job SET state = 'waiting', worker = NULL, begun = begun - 1"
                " WHERE job_id = ? AND state = 'running' AND worker = ?",
                (job_id, self._worker),
            )

    def work(self, perform: Perform) -> None:
        """See ``JobHome``."""
        if self._is_working:
            return
        self._is_working = True
        # Daemons, so that a service told to stop need not wait for them: what is left half done is
        # taken up again.
        for target, arguments in ((self._do_jobs, (perform,)), (self._say_alive, ())):
            threading.Thread(target=target, args=arguments, name="jobs", daemon=True).start()

    def stop(self) -> None:
        """See ``JobHome``."""
        self._stop.set()
        self._added.set()

    def _do_jobs(self, perform: Perform) -> None:
        while not self._stop.is_set():
            try:
                job_id = self._next()
                if job_id is None:
                    self._added.wait(_LOOKS_EVERY_S)
                    self._added.clear()
                else:
                    # A fresh context: the deadline and the day of the request that began the
                    # worker are not the job's.
                    Context().run(run_job, self, job_id, perform)
            except JobsAway as error:
                _log.warning("%s", error)
                self._stop.wait(_AGAIN_S)

    def _next(self) -> str | None:
        """Get hold of the job that has waited longest, or of one whose worker died."""
        now = time.time()
        with self._changing() as db:
            self._expire(db, now)
            died = json.dumps(jobs.error_to_text(jobs.worker_died()))
            db.execute(
                "UPDATE job SET state = 'failed', task = NULL, error = ?, changed = ?"
                " WHERE state = 'running' AND changed <= ? AND begun >= ?",
                (died, now, now - self._silent_s, jobs.MOST_BEGINNINGS),
            )
            row = db.execute(
                # Touched here, so that no other takes it before it is begun.
                "UPDATE job SET worker = ?, changed = ?, state = 'running' WHERE job_id = ("
                "SELECT job_id FROM job"
                " WHERE state = 'waiting' OR (state = 'running' AND changed <= ?)"
                " ORDER BY added, job_id LIMIT 1) RETURNING job_id",
                (self._worker, now, now - self._silent_s),
            ).fetchone()
        return row[0] if row else None

    def _say_alive(self) -> None:
        while not self._stop.wait(self._silent_s / 4):
            try:
                with self._changing() as db:
                    db.execute(
                        "UPDATE job SET changed = ? WHERE state = 'running' AND worker = ?",
                        (time.time(), self._worker),
                    )
            except JobsAway as error:
                _log.warning("%s", error)

    def _ended(self, db: sqlite3.Connection, job_id: str, state: str, error: str | None) -> bool:
        ended = db.execute(
            "UPDATE job SET state = ?, error = ?, task = NULL, done = total, changed = ?"
            " WHERE job_id = ? AND worker = ? AND state = 'running'",
            (state, error, time.time(), job_id, self._worker),
        )
        return bool(ended.rowcount)

    def _expire(self, db: sqlite3.Connection, now: float) -> None:
        db.execute(
            "DELETE FROM job WHERE state IN ('done', 'failed') AND changed <= ?",
            (now - self._kept_s,),
        )

    @contextmanager
    def _changing(self) -> Iterator[sqlite3.Connection]:
        """A transaction that no other writes beside."""
        with self._open() as db:
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
            except BaseException:
                db.execute("ROLLBACK")
                raise
            db.execute("COMMIT")

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with self._open() as db:
            yield db

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            self._make()
            db = sqlite3.connect(self.path, timeout=_WAIT_S, isolation_level=None)
            try:
                db.execute("PRAGMA foreign_keys = ON")
                db.execute("PRAGMA secure_delete = ON")
                yield db
            finally:
                db.close()
        except (OSError, sqlite3.Error) as error:
            why = os.strerror(error.errno or 0) if isinstance(error, OSError) else str(error)
            raise JobsAway(
                f"The file of the jobs, {self.path.name}, cannot be used: {why}.",
                next_step="Make room, let this account write there, or name another file: "
                "REEDGATE_JOBS_FILE. A damaged one may be removed; its jobs are lost.",
            ) from error

    def _make(self) -> None:
        if self._made and self.path.exists():
            return
        folder = self.path.parent
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if folder.parent == Path(tempfile.gettempdir()) and folder.stat().st_uid != os.getuid():
            raise PermissionError(1, "the folder is another account's")
        # What is asked may be confidential, so the file is this account's alone.
        os.close(os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600))
        db = sqlite3.connect(self.path, timeout=_WAIT_S, isolation_level=None)
        try:
            db.executescript(_TABLES)
        finally:
            db.close()
        self._made = True
