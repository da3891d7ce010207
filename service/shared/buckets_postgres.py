"""Buckets of requests in PostgreSQL, so that one rate holds over all servers."""

from math import ceil

from service.shared.database import Database

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
