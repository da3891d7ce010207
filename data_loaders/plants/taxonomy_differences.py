"""Names that the built-in catalogue and an imported taxonomy place otherwise."""

import sqlite3
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from data_loaders.plants.taxonomy_report import Difference, DifferenceKind
from service.names import normal_form
from service.values.vocabulary import PlantId


@dataclass(frozen=True, slots=True)
class _Held:
    """A scientific name of the catalogue."""

    name: str
    form: str
    kind: str
    plant_id: PlantId


def differences(connection: sqlite3.Connection, taxonomy_no: int) -> tuple[Difference, ...]:
    """Compare every scientific name of the catalogue, store what differs, and give it, by name.

    Names that the catalogue itself calls misapplied are left out: it does not hold them for names
    of the plant.
    """
    stored = list(_held(connection))
    plants: dict[str, set[PlantId]] = defaultdict(set)
    for name in stored:
        plants[name.form].add(name.plant_id)
    accepted_here = dict(connection.execute("SELECT plant_id, accepted_name FROM plant").fetchall())
    found: list[Difference] = []
    for name in stored:
        there = _accepted_there(connection, taxonomy_no, name.form)
        home_there = _accepted_there(
            connection, taxonomy_no, normal_form(accepted_here[name.plant_id])
        )
        found.extend(
            Difference(kind, name.name, name.plant_id, accepted_here[name.plant_id], other)
            for kind, other in _difference(name, there, home_there, plants)
        )
    connection.executemany(
        "INSERT OR IGNORE INTO taxonomy_difference VALUES (?, ?, ?, ?, ?, ?)",
        [
            (taxonomy_no, normal_form(d.name), d.plant_id, d.accepted_there, d.name, d.kind)
            for d in found
        ],
    )
    return tuple(found)


def _held(connection: sqlite3.Connection) -> Iterator[_Held]:
    rows = connection.execute(
        "SELECT name, kind, plant_id FROM name WHERE kind IN ('accepted', 'synonym')"
        " AND sense <> 'misapplied' ORDER BY name, plant_id"
    )
    for name, kind, plant_id in rows.fetchall():
        yield _Held(name, normal_form(name), kind, PlantId(plant_id))


def _accepted_there(connection: sqlite3.Connection, taxonomy_no: int, form: str) -> dict[str, str]:
    """Accepted names that a form leads to in the taxonomy, by their normal forms."""
    rows = connection.execute(
        """
        SELECT a.normal_form, a.name FROM taxonomy_name n
        JOIN taxonomy_name a ON a.name_no = n.accepted_no
        WHERE n.normal_form = ? AND n.taxonomy_no = ? ORDER BY a.normal_form, a.name_no DESC
        """,
        (form, taxonomy_no),
    )
    return dict(rows.fetchall())


def _difference(
    stored: _Held,
    there: Mapping[str, str],
    home_there: Mapping[str, str],
    plants: Mapping[str, set[PlantId]],
) -> Iterator[tuple[DifferenceKind, str]]:
    """Compare one name.

    It is at home there when its plant's accepted name leads to the same taxon.
    """
    if stored.kind == "accepted":
        if stored.form in there:
            return
        for form, name in there.items():
            others = plants.get(form, set()) - {stored.plant_id}
            yield (
                (
                    "other-plant"
                    if others and stored.plant_id not in plants[form]
                    else "other-accepted-name"
                ),
                name,
            )
        return
    if there.keys() & home_there.keys() or any(
        stored.plant_id in plants.get(form, ()) for form in there if form != stored.form
    ):
        return
    for form, name in there.items():
        yield ("accepted-there" if form == stored.form else "other-plant"), name
