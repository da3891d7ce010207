"""Watches in PostgreSQL, for the servers of several machines."""

from pydantic import TypeAdapter

from service.shared.database import Database
from service.store.watches import no_such_watch
from service.values.watches import Watch

_WATCH = TypeAdapter(Watch)


class WatchTable:
    """The watches in a database. See ``checks.watch.WatchHome``."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def all(self) -> tuple[Watch, ...]:
        """Every watch, by name."""
        with self._database.connection() as connection:
            rows = connection.execute("SELECT watch FROM reedgate_watch ORDER BY name").fetchall()
        return tuple(_WATCH.validate_python(watch, strict=False) for (watch,) in rows)

    def get(self, name: str) -> Watch:
        """A watch.

        Raises:
            NotFound: no watch has the name.
        """
        with self._database.connection() as connection:
            row = connection.execute(
                "SELECT watch FROM reedgate_watch WHERE name = %s", (name,)
            ).fetchone()
        if row is None:
            raise no_such_watch(name)
        return _WATCH.validate_python(row[0], strict=False)

    def put(self, watch: Watch) -> None:
        """Keep a watch, in place of one of the same name."""
        with self._database.connection() as connection:
            connection.execute(
                "INSERT INTO reedgate_watch VALUES (%s, %s)"
                " ON CONFLICT (name) DO UPDATE SET watch = excluded.watch",
                (watch.name, _WATCH.dump_json(watch).decode()),
            )

    def remove(self, name: str) -> None:
        """Take a watch away.

        Raises:
            NotFound: no watch has the name.
        """
        with self._database.connection() as connection:
            gone = connection.execute("DELETE FROM reedgate_watch WHERE name = %s", (name,))
        if not gone.rowcount:
            raise no_such_watch(name)
