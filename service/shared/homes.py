"""Where what servers share is kept: in the database that the settings name, else in files beside
the store.
"""

from pathlib import Path
from typing import TYPE_CHECKING

from service.settings import Settings
from service.shared.jobs import JobHome
from service.store.tokens import TokenFile, TokenKeeper
from service.store.watches import WatchFile, watches_path

if TYPE_CHECKING:
    from service.shared.database import Database
    from service.shared.tables_postgres import BucketTable, WatchTable

# What talks to PostgreSQL is imported where it is named: it is an extra, and slow to load.


def job_home(config: Settings, store: Path) -> JobHome:
    """The jobs of a store."""
    database = _database(config)
    if database is not None:
        from service.shared.jobs_postgres import JobDatabase

        return JobDatabase(database)
    from service.shared.jobs_file import JobFile

    return JobFile(config.jobs_path(store))


def token_home(config: Settings, store: Path) -> TokenKeeper:
    """The API tokens of a store."""
    database = _database(config)
    if database is None:
        return TokenFile(config.tokens_path(store))
    from service.shared.tables_postgres import TokenTable

    return TokenTable(database)


def watch_home(config: Settings, store: Path) -> "WatchFile | WatchTable":
    """The watches of a store."""
    database = _database(config)
    if database is None:
        return WatchFile(watches_path(store))
    from service.shared.tables_postgres import WatchTable

    return WatchTable(database)


def bucket_home(config: Settings) -> "BucketTable | None":
    """The buckets that servers share; None where each worker counts by itself, or no rate is
    set.
    """
    database = _database(config)
    if database is None or not config.rate_per_minute:
        return None
    from service.shared.tables_postgres import BucketTable

    return BucketTable(database, config.rate_per_minute / 60, float(config.rate_burst))


def _database(config: Settings) -> "Database | None":
    if config.database_url is None:
        return None
    from service.shared.database import database

    return database(config.database_url.get_secret_value())
