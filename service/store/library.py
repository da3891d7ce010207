"""Everything in one build of the store, as values, read once; and the handle that follows the
store from build to build.
"""

import logging
import threading
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from service.errors import StoreError, StoreMissing
from service.geography.counties import CountyTable
from service.names import Candidate, NameRecord, OutsideName, Resolution, Resolver
from service.regulation.for_name import Certainty, Naming
from service.regulation.law import LawBook
from service.regulation.subject import Subject, Taxonomy
from service.store.catalogue import (
    Source,
    read_counties,
    read_names,
    read_plants,
    read_sources,
    read_wetland_names,
)
from service.store.database import Build, Identity
from service.store.deadline import unlimited
from service.store.law import read_law
from service.store.listed_names import ListedNames
from service.store.names import read_taxonomies
from service.values.plants import Plant
from service.values.vocabulary import JURISDICTION_NAMES, BuildId, Jurisdiction, PlantId

if TYPE_CHECKING:
    # A command that reads a file has no use for what fetches builds.
    from service.store.published import Follower


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
    def common_names(self) -> dict[PlantId, str]:
        """The common name of each plant that the catalogue gives first, so the usual one."""
        found: dict[PlantId, str] = {}
        for record in self.names:
            if record.kind == "common":
                found.setdefault(record.plant_id, record.name)
        return found

    @cached_property
    def law(self) -> LawBook:
        return read_law(self.build.connection)

    @cached_property
    def taxonomy(self) -> Taxonomy:
        scientific = (
            (record.name, record.plant_id)
            for record in self.names
            if record.kind == "synonym" and record.sense != "misapplied"
        )
        return Taxonomy.of(self.plants.values(), scientific)

    @cached_property
    def resolver(self) -> Resolver:
        return Resolver(
            self.plants.values(),
            (*self.names, *self._listed_names.records(self.names)),
            read_taxonomies(self.build),
            read_wetland_names(self.build.connection),
        )

    @cached_property
    def counties(self) -> CountyTable:
        return read_counties(self.build.connection)

    @cached_property
    def sources(self) -> tuple[Source, ...]:
        return read_sources(self.build.connection)

    def warm(self) -> "Library":
        """Read what nearly every answer needs, so that no request waits for it."""
        _ = self.law, self.taxonomy, self.counties
        self.naming(self.resolver.resolve("Typha latifolia"))
        return self

    @cached_property
    def _listed_names(self) -> ListedNames:
        return ListedNames(self.law)

    def naming(self, resolution: Resolution) -> Naming:
        """A resolved label as the law looks at it."""
        subjects = tuple(
            self._subject(candidate, resolution.cultivar)
            for candidate in resolution.candidates
            if not _is_genus_of_outside(candidate, resolution)
        )
        if resolution.outside:
            subjects = (self._outside(resolution.outside, resolution.cultivar), *subjects)
        return Naming(_certainty(resolution), subjects, self._listed(resolution, subjects))

    def with_listed(
        self, resolution: Resolution, naming: Naming, places: Iterable[Jurisdiction]
    ) -> Resolution:
        """The resolution with the taxa that lists of these places print under the label's name.

        Args:
            naming: of the resolution.
        """
        if not naming.listed:
            return resolution
        present = {candidate.plant_id for candidate in resolution.candidates}
        wanted = set(places)
        further: dict[PlantId, Candidate] = {}
        said: list[str] = []
        for place, subjects in naming.listed:
            new = [taxon for taxon in subjects if place in wanted and taxon.plant_id not in present]
            for taxon in new:
                further[taxon.plant_id] = self._as_candidate(taxon, resolution.label)
            if new:
                names = " and ".join(taxon.name for taxon in new)
                said.append(f"A list of {JURISDICTION_NAMES[place]} has the name for {names}.")
        if not further:
            return resolution
        return replace(
            resolution,
            match=resolution.match if resolution.candidates else "common",
            confirmed=False,
            candidates=(*resolution.candidates, *further.values()),
            to_confirm=" ".join(filter(None, (resolution.to_confirm, *said))),
        )

    def _as_candidate(self, taxon: Subject, through: str) -> Candidate:
        genus = self.plants[taxon.plant_id].genus
        rule = "name on a list of the place"
        return Candidate(taxon.plant_id, taxon.name, taxon.rank, through, rule, 1.0, genus=genus)

    def _listed(
        self, resolution: Resolution, subjects: tuple[Subject, ...]
    ) -> tuple[tuple[Jurisdiction, tuple[Subject, ...]], ...]:
        """Further taxa that a list prints under the label's name, by the place of the list."""
        if resolution.goods:
            return ()
        names = [candidate.through for candidate in resolution.candidates]
        if resolution.parsed.relation not in ("formula", "graft"):  # there they are parents
            names += [name.canonical for name in resolution.parsed.names if name.species]
        names += resolution.parsed.common
        latin_only = resolution.confirmed and resolution.match in ("accepted", "synonym")
        listed = self._listed_names.taxa(names, latin_only=latin_only)
        if not listed:
            return ()
        reached = {taxon for subject in subjects for taxon in subject.lineage}
        found: list[tuple[Jurisdiction, tuple[Subject, ...]]] = []
        for place, plants in listed.items():
            further = [plant for plant in plants if plant not in reached]
            if further:
                taxa = (self.taxonomy.subject(plant, resolution.cultivar) for plant in further)
                found.append((place, tuple(taxa)))
        return tuple(found)

    def _outside(self, outside: OutsideName, cultivar: str | None) -> Subject:
        plant_id = PlantId(f"outside:{outside.name}")
        return self.taxonomy.uncatalogued(
            plant_id, outside.name, outside.rank, outside.genus, cultivar
        )

    def _subject(self, candidate: Candidate, cultivar: str | None) -> Subject:
        if candidate.plant_id in self.plants:
            return self.taxonomy.subject(candidate.plant_id, cultivar)
        return self.taxonomy.uncatalogued(
            candidate.plant_id, candidate.accepted_name, candidate.rank, candidate.genus, cultivar
        )


def _is_genus_of_outside(candidate: Candidate, resolution: Resolution) -> bool:
    """The genus is not asked for by itself: it would bring its other species in."""
    return resolution.outside is not None and candidate.rank in ("genus", "family")


def _certainty(resolution: Resolution) -> Certainty:
    if resolution.outside:
        return "outside"
    if not resolution.candidates:
        return "none"
    if resolution.confirmed:
        return "confirmed"
    if resolution.match == "spelling":
        return "spelling"
    if resolution.genus_only:
        return "genus"
    return "shared"


class StoreHandle:
    """Gives out the library of the present build, and opens a new build as soon as it is in place.

    A request keeps the library that it was given; the old build stays readable until no request
    uses it. While one thread opens a new build, the others go on with the old one.
    """

    def __init__(self, path: Path, follower: "Follower | None" = None) -> None:
        """
        Args:
            follower: brings the file at the path to the build that is published.
        """
        self.path = path
        self._follower = follower
        self._lock = threading.Lock()
        self._library: Library | None = None
        self._refused: Identity | None = None
        self._refusal: StoreError | None = None
        self.swaps = 0
        """How many builds were opened after the first."""
        self.opened: Callable[[], None] = lambda: None
        """Called whenever a build was opened."""

    @property
    def follows(self) -> bool:
        """Whether the file is a copy of the published build, and written to by nobody else."""
        return self._follower is not None

    @property
    def refusal(self) -> StoreError | None:
        """Why the file now at the path, or the build now published, is not in use, where an older
        build answers in its place.
        """
        return self._refusal or (self._follower.trouble if self._follower else None)

    def cached(self) -> Library | None:
        """The library of the build at the path where it is open already; None where it has to be
        opened first.
        """
        library = self._library
        return library if library is not None and self._is_up_to_date(library) else None

    def current(self) -> Library:
        """The library of the build now at the path.

        Raises:
            StoreMissing, StoreOutdated, StoreDamaged: only while no build could be opened yet, or
                where the file in use was itself written to; a new file that cannot be opened leaves
                the last good build in use.
        """
        last = self._library
        library = self.cached()
        if library is not None:
            return library
        if not self._lock.acquire(blocking=last is None) and last is not None:
            return last
        try:
            return self.cached() or self._reload()
        finally:
            self._lock.release()

    def _is_up_to_date(self, library: Library) -> bool:
        if library.build.is_current():
            return True
        return self._refused is not None and self._refused == _identity(self.path)

    def _reload(self) -> Library:
        found = _identity(self.path)
        try:
            with unlimited():
                library = Library(Build(self.path)).warm()
        except StoreError as error:
            if self._library is None:
                raise self._why_missing(error) from error
            if found is not None and found.same_file(self._library.build.identity):
                self._library = None  # its own file was written to under it
                raise
            self._refused, self._refusal = found, error
            _log.warning(
                "the store now in place is not used: %s",
                error,
                extra={"build": self._library.build_id},
            )
            return self._library
        if self._library is not None:
            self.swaps += 1
        self._library, self._refused, self._refusal = library, None, None
        _log.info("store opened", extra={"build": library.build_id})
        self.opened()
        return library

    def _why_missing(self, error: StoreError) -> StoreError:
        """Of a published store that is not here yet: what stands in its way."""
        if self._follower is None or not isinstance(error, StoreMissing):
            return error
        return self._follower.trouble or StoreMissing(
            "The published store is being fetched.", next_step="Try again in a moment."
        )


def _identity(path: Path) -> Identity | None:
    try:
        return Identity.of(path)
    except StoreError:
        return None


_log = logging.getLogger(__name__)
