"""API tokens in PostgreSQL, for the servers of several machines."""

import logging
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from service.errors import SharedAway
from service.shared.database import Database
from service.store.tokens import Token, TokenKeeper, TokensUnreadable

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
