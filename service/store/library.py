"""Everything that one build holds, as values, read once; and the handle that follows the store from build to build."""

import threading
from functools import cached_property
from pathlib import Path

from service.geography.counties import CountyTable
from service.names import Candidate, NameRecord, Resolution, Resolver
from service.plants import Plant
from service.regulation.law import LawBook
from service.regulation.subject import Subject, Taxonomy
from service.regulation.widest import Certainty, Naming
from service.store.catalogue import read_names, read_plants
from service.store.database import Build
from service.store.geography import read_counties
from service.store.law import read_law
from service.store.sources import Source, read_sources
from service.vocabulary import BuildId, PlantId


class Library:
    """One build of the store, as values. Safe to share between threads."""

    def __init__(self, build: Build) -> None:
        self.build = build

    @property
    def build_id(self) -> BuildId:
        return self.build.build_id

    @cached_property
    def plants(self) -> dict[PlantId, Plant]:
        return read_plants(self.build.connection)

    @cached_property
    def names(self) -> tuple[NameRecord, ...]:
        return tuple(read_names(self.build.connection))

    @cached_property
    def law(self) -> LawBook:
        return read_law(self.build.connection)

    @cached_property
    def taxonomy(self) -> Taxonomy:
        scientific = ((each.name, each.plant_id) for each in self.names if each.kind == "synonym" and "misapplied" not in each.note)
        return Taxonomy.of(self.plants.values(), scientific)

    @cached_property
    def resolver(self) -> Resolver:
        return Resolver(self.plants.values(), self.names)

    @cached_property
    def counties(self) -> CountyTable:
        return read_counties(self.build.connection)

    @cached_property
    def sources(self) -> tuple[Source, ...]:
        return read_sources(self.build.connection)

    def naming(self, resolution: Resolution) -> Naming:
        """A resolved label as the law looks at it."""
        subjects = tuple(self._subject(candidate, resolution.cultivar) for candidate in resolution.candidates)
        return Naming(_certainty(resolution), subjects)

    def _subject(self, candidate: Candidate, cultivar: str | None) -> Subject:
        if candidate.plant_id in self.plants:
            return self.taxonomy.subject(candidate.plant_id, cultivar)
        return self.taxonomy.stranger(candidate.plant_id, candidate.accepted_name, candidate.rank, candidate.genus, cultivar)


def _certainty(resolution: Resolution) -> Certainty:
    if not resolution.candidates:
        return "none"
    if resolution.confirmed:
        return "confirmed"
    if resolution.match == "spelling":
        return "spelling"
    if resolution.genus_only:
        return "genus"
    return "shared"


class LibraryDesk:
    """Hands out the library of the present build and takes up a new build as soon as it is in place.

    A request keeps the library it was given to its end; the old build stays readable until nobody holds it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.Lock()
        self._library: Library | None = None

    def current(self) -> Library:
        """The library of the build now at the path.

        Raises:
            StoreMissing, StoreOutdated, StoreDamaged: only while no build could be opened yet; later a store that cannot be opened
                leaves the last good one in use.
        """
        library = self._library
        if library is not None and library.build.is_current():
            return library
        with self._lock:
            if self._library is None or not self._library.build.is_current():
                self._library = Library(Build(self.path))
            return self._library
