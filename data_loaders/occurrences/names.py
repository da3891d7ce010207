"""From the names of a record to a plant of the store, by exact rules only."""

import hashlib
import sqlite3
from collections.abc import Callable
from functools import lru_cache
from typing import Literal, NamedTuple

from service.names.normal import normal_form
from service.vocabulary import PlantId

ExactMatcher = Callable[[str], PlantId | None]
"""Scientific name, with or without authorship, to the plant of which it is the accepted name or a synonym."""


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
    """What the names of a record lead to: a plant, or the reason why not. ``name`` is the record's own name."""

    plant_id: PlantId | None
    reason: Literal["no-name", "doubtful-name", "not-of-store"] | None
    by_species_column: bool
    name: str


def resolve(cells: NameCells, matcher: ExactMatcher, *, loose: bool) -> Named:
    """The record's own name first; then the species its publisher files it under, for forms below the species.

    Args:
        loose: the publisher matched the name loosely, so that only the name as written counts.
    """
    own = cells.scientific_name or cells.accepted_scientific_name or _composed(cells) or cells.verbatim_scientific_name
    if loose:
        plant = matcher(cells.verbatim_scientific_name) if cells.verbatim_scientific_name else None
        return Named(plant, None if plant else "doubtful-name", False, cells.verbatim_scientific_name or own)
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
    return " ".join(filter(None, (cells.genus, cells.specific_epithet, cells.infraspecific_epithet)))


class StoreNames:
    """Accepted names and synonyms of a store, matched in the normal form of scientific names.

    An accepted name goes before a synonym; a synonym of several plants names none of them.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        accepted: dict[str, set[PlantId]] = {}
        synonyms: dict[str, set[PlantId]] = {}
        rows = connection.execute("SELECT accepted_name, 'accepted', plant_id FROM plant").fetchall()
        rows += connection.execute("SELECT name, kind, plant_id FROM name WHERE kind IN ('accepted', 'synonym')").fetchall()
        for name, kind, plant_id in rows:
            names = accepted if kind == "accepted" else synonyms
            names.setdefault(normal_form(name), set()).add(PlantId(plant_id))
        both = synonyms | accepted
        self._plants = {form: min(plants) for form, plants in both.items() if len(plants) == 1}
        listing = "\n".join(f"{form}\t{plant}" for form, plant in sorted(self._plants.items()))
        self.fingerprint = hashlib.sha256(listing.encode()).hexdigest()[:12]
        self._cached = lru_cache(maxsize=200_000)(self._match)

    def _match(self, name: str) -> PlantId | None:
        return self._plants.get(normal_form(name))

    def __call__(self, name: str) -> PlantId | None:
        return self._cached(name)
