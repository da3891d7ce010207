"""What an operator added to a store, carried into a build of new reference data.

Every source has an origin, ``reference`` or ``added``. Waters, watersheds, zones and records are
copied as they are; lists are joined to the plants of the new catalogue; taxonomies are compared
with it anew; boundaries take the place of the packaged ones again.
"""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from data_loaders.build import Draft
from data_loaders.geography.water_store import WaterTables
from data_loaders.plants.taxonomy_differences import differences
from data_loaders.regulations.load import TaxonJoiner
from service.errors import StoreDamaged, StoreError, StoreMissing, StoreOutdated
from service.store.database import Build

_DROP = "or build anew without them: reedgate load reference --drop-additions."

_COPIED = {
    "waters": (
        "water",
        "water_state",
        "water_part",
        "water_box",
        "flowline",
        "flow_link",
        "flowline_state",
    ),
    "watersheds": ("watershed", "watershed_area", "watershed_box"),
    "zones": ("zone_of_zip", "zone_area", "zone_box"),
    "occurrences": (
        "occurrence_dataset",
        "occurrence_plant",
        "occurrence_terms",
        "occurrence_block",
        "occurrence_box",
        "occurrence_digest",
    ),
    "taxonomy": ("taxonomy", "taxonomy_name", "taxonomy_genus_key"),
}
"""Tables that added sources of a kind alone fill."""
_LISTS = ("law", "own-rule")


@dataclass(frozen=True, slots=True)
class Addition:
    """A source that the operator added."""

    source_id: str
    kind: str
    title: str


def additions(target: Path) -> tuple[Addition, ...]:
    """What the operator added to a store; nothing where there is none.

    Raises:
        StoreError: there is a store, and it cannot be read by this program.
    """
    try:
        with closing(Build(target)) as build:
            return _added(build.connection)
    except StoreMissing:
        return ()
    except StoreOutdated as error:
        raise StoreError(
            f"The store {target.name} was made by another version of the program, so what was"
            " added to it cannot be carried over.",
            next_step=f"Keep a copy of it and load your files again after this, {_DROP}",
        ) from error
    except StoreDamaged as error:
        raise StoreError(
            f"{error.detail} What was added to it cannot be carried over.",
            next_step=f"Put back a copy of it, {_DROP}",
        ) from error


def carry_over(draft: Draft, target: Path) -> tuple[Addition, ...]:
    """Put what the operator added to ``target`` into a draft of new reference data.

    Raises:
        StoreError: something of it cannot be kept, with what and why.
    """
    with closing(Build(target)) as build, _attached(draft.connection, target):
        found = _added(build.connection)
        kinds = {addition.kind for addition in found}
        unknown = sorted(kinds - set(_COPIED) - set(_LISTS) - {"boundaries"})
        if unknown:
            raise _cannot_keep(f"sources of the kind {', '.join(unknown)}")
        lists = [addition for addition in found if addition.kind in _LISTS]
        _carry_lists(draft, build.connection, lists)
        for addition in found:
            if addition.kind not in _LISTS:
                _copy_rows(draft.connection, "source", "source_id = ?", (addition.source_id,))
        for kind, tables in _COPIED.items():
            if kind in kinds:
                for table in tables:
                    _copy_rows(draft.connection, table)
        if "boundaries" in kinds:
            _carry_boundaries(draft.connection)
        if "occurrences" in kinds:
            _check_plants(draft.connection)
        if "taxonomy" in kinds:
            for (number,) in draft.connection.execute(
                "SELECT taxonomy_no FROM taxonomy ORDER BY taxonomy_no"
            ).fetchall():
                differences(draft.connection, number)
        if "waters" in kinds and _boundaries_differ(draft.connection):
            WaterTables(draft).place_anew()
        draft.connection.commit()  # or the old store could not be detached
    return found


def _added(connection: sqlite3.Connection) -> tuple[Addition, ...]:
    rows = connection.execute(
        "SELECT source_id, kind, title FROM source WHERE origin = 'added' ORDER BY kind, source_id"
    )
    return tuple(Addition(row[0], row[1], row[2]) for row in rows)


def _cannot_keep(what: str) -> StoreError:
    return StoreError(
        f"The reference data was not rebuilt: {what} that were added cannot be kept with it.",
        next_step=f"The store is as it was. Load them again afterwards, {_DROP}",
    )


@contextmanager
def _attached(connection: sqlite3.Connection, target: Path) -> Iterator[None]:
    connection.commit()
    address = f"{target.absolute().as_uri()}?mode=ro&immutable=1"
    connection.execute("ATTACH DATABASE ? AS old", (address,))
    try:
        yield
    finally:
        connection.rollback()
        connection.execute("DETACH DATABASE old")


def _copy_rows(
    connection: sqlite3.Connection, table: str, where: str = "1", values: tuple[str, ...] = ()
) -> None:
    names = [row[1] for row in connection.execute(f"PRAGMA main.table_info({table})")]
    old_columns = {row[1] for row in connection.execute(f"PRAGMA old.table_info({table})")}
    columns = ", ".join(name for name in names if name in old_columns)
    connection.execute(
        f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM old.{table} WHERE {where}",
        values,
    )


def _carry_lists(draft: Draft, old: sqlite3.Connection, lists: list[Addition]) -> None:
    """Lists by their rows, each entry joined to the new catalogue by its accepted name. An added
    version goes before one of the package with the same id and date.
    """
    joiner = TaxonJoiner(draft)
    names = dict(old.execute("SELECT plant_id, accepted_name FROM plant").fetchall())
    connection = draft.connection
    for addition in lists:
        key = old.execute(
            "SELECT list_id, version FROM law_list WHERE source_id = ?", (addition.source_id,)
        ).fetchone()
        if key is None:
            raise _cannot_keep(f"the rows of {addition.title}")
        of_list, values = "list_id = ? AND version = ?", (key[0], key[1])
        for table in ("law_entry", "law_class", "law_list"):
            draft.db.table(table).delete_where(of_list, list(values))
        draft.db.table("source").delete_where("source_id = ?", [addition.source_id])
        _copy_rows(connection, "source", "source_id = ?", (addition.source_id,))
        _copy_rows(connection, "law_list", of_list, values)
        for table in ("law_class", "law_entry"):
            for row in old.execute(
                f"SELECT * FROM {table} WHERE {of_list} ORDER BY position", values
            ):
                fields = {key: row[key] for key in row.keys() if key != "entry_id"}  # noqa: SIM118
                fields["terms"] = _terms(row["terms"], names, joiner)
                if table == "law_entry":
                    fields["plant_id"] = joiner.join(row["accepted_name"], row["rank"])
                draft.db.table(table).insert(fields)


def _terms(written: str, names: Mapping[str, str], joiner: TaxonJoiner) -> str:
    terms = json.loads(written)
    for term in terms:
        term["taxa"] = [joiner.join(names[plant], "species") for plant in term.get("taxa", [])]
    return json.dumps(terms, ensure_ascii=False)


def _carry_boundaries(connection: sqlite3.Connection) -> None:
    """The states of which the old store had added counties, in the place of the packaged ones."""
    states = [
        row[0]
        for row in connection.execute(
            "SELECT DISTINCT state FROM old.county JOIN old.source USING (source_id)"
            " WHERE origin = 'added' ORDER BY state"
        )
    ]
    for state in states:
        boundaries = "SELECT boundary_id FROM boundary WHERE state = ?"
        connection.execute(
            f"DELETE FROM main.boundary_box WHERE boundary_id IN ({boundaries})", (state,)
        )
        for table in ("boundary", "county"):
            connection.execute(f"DELETE FROM main.{table} WHERE state = ?", (state,))
        _copy_rows(connection, "county", "state = ?", (state,))
        rows = connection.execute(
            "SELECT fips, geometry, west, east, south, north FROM old.boundary"
            " JOIN old.boundary_box USING (boundary_id) WHERE state = ? ORDER BY boundary_id",
            (state,),
        ).fetchall()
        for fips, geometry, *box in rows:
            cursor = connection.execute(
                "INSERT INTO main.boundary (state, fips, geometry) VALUES (?, ?, ?)",
                (state, fips, geometry),
            )
            connection.execute(
                "INSERT INTO main.boundary_box VALUES (?, ?, ?, ?, ?)", (cursor.lastrowid, *box)
            )


def _boundaries_differ(connection: sqlite3.Connection) -> bool:
    query = "SELECT sha256 FROM {}.source WHERE kind = 'boundaries' AND origin = 'reference'"
    new, old = (connection.execute(query.format(name)).fetchall() for name in ("main", "old"))
    return bool(new != old)


def _check_plants(connection: sqlite3.Connection) -> None:
    lost = connection.execute(
        "SELECT count(*) FROM main.occurrence_plant WHERE plant_id NOT IN"
        " (SELECT plant_id FROM main.plant)"
    ).fetchone()[0]
    if lost:
        raise _cannot_keep(f"records of {lost} plants that the catalogue no longer has")
