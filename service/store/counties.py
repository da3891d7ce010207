"""The counties of the store by code and name; where they lie is in ``service.store.geography``."""

import sqlite3

from service.geography.counties import COUNTY_KINDS, County, CountyKind, CountyTable
from service.values.vocabulary import CountyFips, Jurisdiction

_KINDS: dict[str, CountyKind] = {kind: kind for kind in COUNTY_KINDS}


def read_counties(connection: sqlite3.Connection) -> CountyTable:
    """Every county of the store."""
    return CountyTable(
        read_county(row) for row in connection.execute("SELECT fips, state, name, kind FROM county")
    )


def read_county(row: sqlite3.Row) -> County:
    """A county from a row with ``fips``, ``state``, ``name`` and ``kind``."""
    return County(
        CountyFips(row["fips"]), Jurisdiction(row["state"]), row["name"], _KINDS[row["kind"]]
    )
