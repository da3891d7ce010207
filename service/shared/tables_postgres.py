"""Tokens, watches and rates in the PostgreSQL database that several servers share."""

import logging
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from math import ceil

from pydantic import TypeAdapter

from service.errors import SharedAway
from service.shared.database import Database
from service.store.tokens import Token, TokenKeeper, TokensUnreadable
from service.store.watches import no_such_watch
from service.values.watches import Watch

READ_EVERY_S = 2.0
"""A token that is taken back is refused everywhere after at most so long."""
BELIEVED_S = 300.0
"""How long the tokens read last are believed while the database is away (common practice, no
source).
"""

_log = logging.getLogger(__name__)


class TokenTable(TokenKeeper):
    """The tokens in a database.

    They are read anew every few seconds in a thread of their own, so that no request waits for
    the database, and none fails while it is away for a moment.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self._lock = threading.Lock()
        self._reader: threading.Thread | None = None
        self._read: tuple[float, dict[str, Token]] | None = None

    def tokens(self) -> dict[str, Token]:
        """Tokens by id.

        Raises:
            TokensUnreadable: the database has been away for too long, or was never there.
        """
        if self._reader is None:
            with self._lock:
                if self._reader is None:
                    self._read_now()
                    self._reader = threading.Thread(
                        target=self._read_again, name="tokens", daemon=True
                    )
                    self._reader.start()
        if self._read is None or time.monotonic() - self._read[0] > BELIEVED_S:
            raise TokensUnreadable(
                "The tokens cannot be read from the database.",
                next_step="See that the database runs: reedgate database check.",
            )
        return self._read[1]

    @contextmanager
    def _changing(self) -> Iterator[dict[str, Token]]:
        with self._database.connection() as connection:
            connection.execute("LOCK TABLE reedgate_token IN SHARE ROW EXCLUSIVE MODE")
            rows = connection.execute("SELECT token_id, token FROM reedgate_token").fetchall()
            before = {token_id: Token.model_validate(token) for token_id, token in rows}
            tokens = dict(before)
            yield tokens
            for token_id in before.keys() - tokens.keys():
                connection.execute("DELETE FROM reedgate_token WHERE token_id = %s", (token_id,))
            for token_id, token in tokens.items():
                if before.get(token_id) != token:
                    connection.execute(
                        "INSERT INTO reedgate_token VALUES (%s, %s) ON CONFLICT (token_id)"
                        " DO UPDATE SET token = excluded.token",
                        (token_id, token.model_dump_json()),
                    )
        self._read = (time.monotonic(), tokens)

    def _read_now(self) -> None:
        try:
            with self._database.connection() as connection:
                rows = connection.execute("SELECT token_id, token FROM reedgate_token").fetchall()
            tokens = {token_id: Token.model_validate(token) for token_id, token in rows}
        except (SharedAway, ValueError) as error:
            _log.warning("the tokens cannot be read: %s", error)
        else:
            self._read = (time.monotonic(), tokens)

    def _read_again(self) -> None:
        while True:
            time.sleep(READ_EVERY_S)
            self._read_now()


# One row is locked for the time of one statement, so two servers never give the same token. A clock
# that was set back by more than a few seconds begins anew where it stands.
_TAKE = """
INSERT INTO reedgate_bucket AS held (client, tokens, seen, taken)
VALUES (%(client)s, %(burst)s - 1, statement_timestamp(), true)
ON CONFLICT (client) DO UPDATE SET
  tokens = {now} - CASE WHEN {now} >= 1 THEN 1 ELSE 0 END,
  taken = {now} >= 1,
  seen = CASE WHEN held.seen > statement_timestamp() + interval '5 seconds'
    THEN statement_timestamp() ELSE greatest(held.seen, statement_timestamp()) END
RETURNING tokens, taken""".format(
    now="least(%(burst)s, held.tokens + %(per_second)s"
    " * greatest(0, extract(epoch FROM statement_timestamp() - held.seen)))"
)


class BucketTable:
    """A bucket for each client. A request takes one token; they come back at an even rate."""

    def __init__(self, database: Database, per_second: float, burst: float) -> None:
        self._database = database
        self._per_second = per_second
        self._burst = burst

    def take(self, client: str) -> tuple[float, bool]:
        """Take a token where there is one. What is left, and whether there was one.

        Raises:
            SharedAway: the database does not answer, or has not the table.
        """
        values = {"client": client, "burst": self._burst, "per_second": self._per_second}
        with self._database.quick() as connection:
            tokens, taken = connection.execute(_TAKE, values).fetchone()
        return float(tokens), bool(taken)

    def forget_whole(self) -> None:
        """Take away the buckets that are whole again: a client without one has a whole one.

        Raises:
            SharedAway: as ``take``.
        """
        with self._database.quick() as connection:
            connection.execute(
                "DELETE FROM reedgate_bucket WHERE seen < now() - %s * interval '1 second'",
                (ceil(self._burst / self._per_second) + 1,),
            )


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
