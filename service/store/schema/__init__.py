"""The tables of the store, one SQL file an area.

The loaders create them; only ``service.store`` reads them.
"""

import sqlite3
from importlib.resources import files

SCHEMA_VERSION = "6"
"""Raised by one whenever a table changes; a store of another version is refused with a word on
how to rebuild.
"""

_AREAS = ("core", "plants", "law", "geography", "occurrences", "taxonomy")


def create_tables(connection: sqlite3.Connection) -> None:
    """Create every table of an empty store."""
    for area in _AREAS:
        script = files(__package__).joinpath(f"{area}.sql")
        if script.is_file():
            connection.executescript(script.read_text(encoding="utf-8"))
