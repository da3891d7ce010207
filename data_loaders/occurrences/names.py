"""From the names of a record to a plant of the store, by exact rules only."""

import hashlib
import sqlite3
from collections.abc import Callable
from functools import lru_cache
from typing import Literal, NamedTuple

from service.names.normal import normal_form
from service.values.vocabulary import PlantId

ExactMatcher = Callable[[str], PlantId | None]
"""Scientific name, with or without authorship, to the plant of which it is the accepted name or
a synonym.
"""


class NameCells(NamedTuple):
    """The name cells of a record, in the order of ``terms.NAME_TERMS``."""

    scientific_name: str
    accepted_scientific_name: str
    species: str
    verbatim_scientific_name: str
    genus: str
    specific_epithet: str
    infraspecific_epithet: str


class Named(NamedTuple):
    """What the names of a record lead to: a plant, or the reason why not. ``name`` is the
    record's own name.
    """

    plant_id: PlantId | None
    reason: Literal["no-name", "doubtful-name", "not-of-store"] | None
    by_species_column: bool
    name: str


def resolve(cells: NameCells, matcher: ExactMatcher, *, loose: bool) -> Named:
    """The record's own name first; then the species its publisher files it under, for forms below
    the species.

    Args:
        loose: the publisher matched the name loosely, so that only the name as written counts.
    """
    own = (
        cells.scientific_name
        or cells.accepted_scientific_name
        or _composed(cells)
        or cells.verbatim_scientific_name
    )
    if loose:
        plant = matcher(cells.verbatim_scientific_name) if cells.verbatim_scientific_name else None
        return Named(
            plant, None if plant else "doubtful-name", False, cells.verbatim_scientific_name or own
        )
    name = own or cells.species
    if not name:
        return Named(None, "no-name", False, "")
    if plant := matcher(name):
        return Named(plant, None, False, name)
    for other in (cells.accepted_scientific_name, cells.species):
        if other and other != name and (plant := matcher(other)):
            return Named(plant, None, True, name)
    return Named(None, "not-of-store", False, name)


def _composed(cells: NameCells) -> str:
    if not (cells.genus and cells.specific_epithet):
        return ""
    return " ".join(
        filter(None, (cells.genus, cells.specific_epithet, cells.infraspecific_epithet))
    )


class StoreNames:
    """Accepted names and synonyms of a store, matched in the normal form of scientific names.

    An accepted name goes before a synonym; a synonym of several plants, or one misapplied, names
    none of them. A name that the catalogue lacks is looked for in the imported taxonomies: it names
    the plant that the catalogue holds under any name of the same taxon.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        accepted: dict[str, set[PlantId]] = {}
        synonyms: dict[str, set[PlantId]] = {}
        for name, kind, plant_id in connection.execute(_CATALOGUE_NAMES):
            names = accepted if kind == "accepted" else synonyms
            names.setdefault(normal_form(name), set()).add(PlantId(plant_id))
        self._plants = synonyms | accepted
        self.fingerprint = self._fingerprint()
        self._cached = lru_cache(maxsize=200_000)(self._match)

    def __call__(self, name: str) -> PlantId | None:
        return self._cached(name)

    def _match(self, name: str) -> PlantId | None:
        form = normal_form(name)
        plants = self._plants[form] if form in self._plants else self._imported(form)
        return next(iter(plants)) if len(plants) == 1 else None

    def _imported(self, form: str) -> set[PlantId]:
        """Plants of the catalogue that the taxa of an imported name are; none where one of the
        taxa is not loaded.
        """
        found: set[PlantId] = set()
        taxa = self._connection.execute(
            "SELECT DISTINCT accepted_no FROM taxonomy_name WHERE normal_form = ?", (form,)
        )
        for (accepted_no,) in taxa.fetchall():
            forms = self._connection.execute(_FORMS_OF_TAXON, (accepted_no, accepted_no))
            plants = {plant for (other,) in forms for plant in self._plants.get(other, ())}
            if len(plants) != 1:
                return set()
            found |= plants
        return found

    def _fingerprint(self) -> str:
        """Of everything that decides a match."""
        digest = hashlib.sha256()
        for form, plants in sorted(self._plants.items()):
            digest.update(f"{form}\t{' '.join(sorted(plants))}\n".encode())
        imported = self._connection.execute(
            "SELECT source_id, sha256 FROM source WHERE kind = 'taxonomy' ORDER BY source_id"
        )
        for source_id, sha256 in imported:
            digest.update(f"{source_id}\t{sha256}\n".encode())
        return digest.hexdigest()[:12]


_CATALOGUE_NAMES = """
SELECT accepted_name, 'accepted', plant_id FROM plant
UNION ALL
SELECT name, kind, plant_id FROM name
WHERE kind IN ('accepted', 'synonym') AND sense <> 'misapplied'"""

_FORMS_OF_TAXON = """
SELECT normal_form FROM taxonomy_name WHERE accepted_no = ?
UNION SELECT normal_form FROM taxonomy_name WHERE name_no = ?"""
