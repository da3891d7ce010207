"""The PostgreSQL database that servers share, where ``REEDGATE_DATABASE_URL`` names one.

Its tables are made and changed by ``reedgate database migrate`` and never by a request. psycopg is
the driver; the queue of the jobs is procrastinate's.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib import resources
from typing import Any

from service.errors import SharedAway, StoreError

_WAIT_S = 5.0
_MOST_CONNECTIONS = 4
_QUICK_WAIT_S = 1.0
"""How long a request waits for a word that it can do without (common practice, no source)."""
MIGRATIONS = ("0001_shared", "0002_queue", "0003_buckets")
"""In order. The second takes its SQL from the queue's library."""


class DatabaseAway(SharedAway):
    """The database does not answer, or does not let us in."""

    title = "The database cannot be reached"


class DatabaseOutdated(SharedAway):
    """The database has not the tables of this version."""

    title = "The database has to be migrated"


class Database:
    """Connections to the database, made when they are needed.

    Raises:
        StoreError: the library that talks to PostgreSQL is not installed.
    """

    def __init__(self, url: str) -> None:
        try:
            import procrastinate
            import psycopg
            import psycopg_pool
        except ImportError as error:
            raise StoreError(
                "PostgreSQL takes libraries that are not installed.",
                next_step="Install them: pip install 'reedgate[postgres]'.",
            ) from error
        self.url = url
        self._psycopg, self._timeout = psycopg, psycopg_pool.PoolTimeout
        self._schema = procrastinate.schema.SchemaManager.get_schema
        self._pool = psycopg_pool.ConnectionPool(
            url,
            min_size=0,
            max_size=_MOST_CONNECTIONS,
            open=False,
            timeout=_WAIT_S,
            reconnect_timeout=_WAIT_S,
            check=psycopg_pool.ConnectionPool.check_connection,
            kwargs={"connect_timeout": int(_WAIT_S), "application_name": "reedgate"},
        )
        quick_ms = int(_QUICK_WAIT_S * 1_000)
        self._quick = psycopg_pool.ConnectionPool(
            url,
            min_size=0,
            max_size=_MOST_CONNECTIONS,
            open=False,
            timeout=_QUICK_WAIT_S,
            reconnect_timeout=_QUICK_WAIT_S,
            kwargs={
                "connect_timeout": 2,  # the least that the library takes
                "tcp_user_timeout": quick_ms,
                "options": f"-c statement_timeout={quick_ms}",
                "application_name": "reedgate",
                "autocommit": True,
            },
        )

    @contextmanager
    def connection(self) -> Iterator[Any]:
        """A connection, in a transaction of its own.

        Raises:
            DatabaseAway: the database does not answer.
            DatabaseOutdated: it has not the tables of this version.
        """
        with self._errors_named():
            self._pool.open()  # does nothing the second time
            with self._pool.connection() as connection:
                yield connection

    @contextmanager
    def quick(self) -> Iterator[Any]:
        """A connection for one short statement: no transaction, no look beforehand whether the
        connection still holds, and the database counts as away after a second.

        Raises:
            DatabaseAway, DatabaseOutdated: as ``connection``.
        """
        with self._errors_named():
            self._quick.open()
            with self._quick.connection() as connection:
                yield connection

    @contextmanager
    def _errors_named(self) -> Iterator[None]:
        try:
            yield
        except (
            self._psycopg.errors.UndefinedTable,
            self._psycopg.errors.UndefinedColumn,
            self._psycopg.errors.UndefinedFunction,
        ) as error:
            raise DatabaseOutdated(
                "The database has not the tables of this version.",
                next_step="Run: reedgate database migrate.",
            ) from error
        except (self._psycopg.Error, self._timeout) as error:
            # The driver's own text may hold the address, so it is not passed on.
            raise DatabaseAway(
                f"The database does not answer ({type(error).__name__}).",
                next_step="See REEDGATE_DATABASE_URL, and that the database runs and takes this"
                " account.",
            ) from error

    def migrate(self) -> list[str]:
        """Bring the tables to this version. The migrations that were applied."""
        with self.connection() as connection:
            # Two at once take turns; any number will do.
            connection.execute("SELECT pg_advisory_xact_lock(7233430)")
            connection.execute(
                "CREATE TABLE IF NOT EXISTS reedgate_migration ("
                "name text PRIMARY KEY, applied timestamptz NOT NULL DEFAULT now())"
            )
            applied = {
                name for (name,) in connection.execute("SELECT name FROM reedgate_migration")
            }
            missing = [name for name in MIGRATIONS if name not in applied]
            for name in missing:
                connection.execute(self._sql_of(name))
                connection.execute("INSERT INTO reedgate_migration (name) VALUES (%s)", (name,))
        return missing

    def missing_migrations(self) -> list[str]:
        """The migrations that were not applied yet."""
        with self.connection() as connection:
            if connection.execute("SELECT to_regclass('reedgate_migration')").fetchone()[0] is None:
                return list(MIGRATIONS)
            rows = connection.execute("SELECT name FROM reedgate_migration").fetchall()
        return [name for name in MIGRATIONS if (name,) not in rows]

    def _sql_of(self, name: str) -> bytes:
        if name == "0002_queue":
            return self._schema().encode()
        return resources.files("service.shared").joinpath(f"schema/{name}.sql").read_bytes()

    def close(self) -> None:
        """Give the connections back."""
        self._pool.close()
        self._quick.close()


@cache
def database(url: str) -> Database:
    """The database of this process at an address."""
    return Database(url)
