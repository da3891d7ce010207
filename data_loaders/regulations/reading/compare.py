"""A document compared with a list: what agrees, what is missing on either side, what differs."""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import lru_cache

from data_loaders.regulations.listfile import EntryModel, ListFile
from data_loaders.regulations.reading.document import Document
from data_loaders.regulations.reading.listings import find_listings
from data_loaders.regulations.reading.values import (
    Confirmed,
    How,
    Listing,
    Listings,
    ListReading,
    Missing,
    SetAside,
    Unknown,
    Unseen,
)
from data_loaders.regulations.reading.vocabulary import Vocabulary, plain_name
from service.names import (
    edits_within,
    epithets_near,
    fold,
    normal_form,
    vernacular_form,
    word_bound,
)
from service.store.library import Library
from service.values.vocabulary import PlantId

_MOST_EDITS = 3


def read_list(
    document: Document,
    model: ListFile,
    library: Library,
    *,
    vocabulary: Vocabulary | None = None,
    federal: ListFile | None = None,
) -> ListReading:
    """Hold a document against a list.

    Args:
        vocabulary: of the store and the list, where it was made already.
        federal: the federal list, for texts that take it over by reference.
    """
    words = vocabulary or Vocabulary.of(library, model)
    found = find_listings(document, words, [list_class.name for list_class in model.classes])
    return _Comparison(model, library, found, federal).result()


class _Comparison:
    def __init__(
        self, model: ListFile, library: Library, found: Listings, federal: ListFile | None
    ) -> None:
        self.model, self.library, self.found, self.federal = model, library, found, federal
        self.by_form: dict[str, list[int]] = defaultdict(list)
        self.by_plant: dict[PlantId, list[int]] = defaultdict(list)
        self.by_common: dict[str, list[int]] = defaultdict(list)
        for place, entry in enumerate(model.entries):
            for form in _forms(entry):
                self.by_form[form].append(place)
            for plant in self._plants_of_entry(entry):
                self.by_plant[plant].append(place)
            for common in _commons(entry):
                self.by_common[common].append(place)
        self.seen: dict[int, list[tuple[Listing, How]]] = defaultdict(list)
        self.mentioned: dict[int, Listing] = {}
        self.missing: dict[str, Missing] = {}
        self.unknown: dict[str, Unknown] = {}
        self.set_aside: list[SetAside] = []

    def result(self) -> ListReading:
        latin_texts = sum(listing.sort != "common" for listing in self.found.listings)
        for listing in self.found.listings:
            self._file(listing, common_counts=True, mostly_latin=latin_texts > 3)
        confirmed = tuple(
            self._confirmed(place, mention) for place, mention in sorted(self.seen.items())
        )
        self._other_classes(confirmed)
        return ListReading(
            list_id=self.model.list_id,
            confirmed=confirmed,
            missing_here=tuple(self.missing.values()),
            not_in_text=tuple(
                self._unseen(place)
                for place in range(len(self.model.entries))
                if place not in self.seen
            ),
            unknown_names=tuple(self.unknown.values()),
            class_differs=tuple(name for name in confirmed if name.class_agrees is False),
            set_aside=tuple(dict.fromkeys(self.set_aside)),
            days=tuple(self.found.days),
            incorporated=tuple(self.found.incorporated),
        )

    # Which entry a name is

    def _plants_of_entry(self, entry: EntryModel) -> set[PlantId]:
        names = [entry.accepted_name, plain_name(entry.name_as_listed)]
        return {plant for name in names if name for plant in self._plants(name)[0]}

    def _plants(self, name: str) -> tuple[tuple[PlantId, ...], str]:
        """Plants that a scientific name is, letter by letter, and the accepted name of the
        first.
        """
        resolution = self.library.resolver.resolve(name)
        if resolution.match not in ("accepted", "synonym") or resolution.genus_only:
            return (), ""
        own = [
            c for c in resolution.candidates if normal_form(c.accepted_name) == normal_form(name)
        ]
        found = own or list(resolution.candidates)
        return tuple(candidate.plant_id for candidate in found), found[
            0
        ].accepted_name if found else ""

    def _entries(self, listing: Listing) -> tuple[list[int], How]:
        if listing.sort == "common":
            return self._entries_by_common(listing), "common"
        form = _form(listing.name)
        if form in self.by_form:
            exact = [
                place
                for place in self.by_form[form]
                if _form(plain_name(self.model.entries[place].name_as_listed)) == form
            ]
            return self.by_form[form], "as-listed" if exact else "accepted-name"
        if listing.sort in ("open", "genus"):
            return [], "as-listed"
        plants, _ = self._plants(listing.name)
        found = {place for plant in plants for place in self.by_plant.get(plant, ())}
        return sorted(found), "synonym"

    def _entries_by_common(self, listing: Listing) -> list[int]:
        form = vernacular_form(listing.name)
        if form in self.by_common:
            return self.by_common[form]
        resolution = self.library.resolver.resolve(listing.name)
        if resolution.match not in ("common", "trade"):
            return []
        found = {
            place
            for candidate in resolution.candidates
            for place in self.by_plant.get(candidate.plant_id, ())
        }
        return sorted(found)

    # Filing

    def _file(self, listing: Listing, *, common_counts: bool, mostly_latin: bool) -> None:
        entries, how = self._entries(listing)
        if listing.set_aside:
            self.set_aside.append(
                SetAside(listing.name, listing.set_aside, listing.context, listing.place)
            )
            for place in entries:
                self.mentioned.setdefault(place, listing)
            return
        if entries:
            for place in self._of_class(entries, listing.class_name):
                self.seen[place].append((listing, how))
            return
        if listing.sort == "common":
            if listing.where != "prose":
                self._missing_by_common(listing)
            return
        if listing.sort == "genus" and listing.where == "prose":
            return
        self._new(listing)

    def _of_class(self, entries: Sequence[int], class_name: str | None) -> Sequence[int]:
        """Of several entries of one plant, those of the class that the text names."""
        fitting = [place for place in entries if self.model.entries[place].class_name == class_name]
        return fitting or entries

    def _new(self, listing: Listing) -> None:
        form = _form(listing.name)
        if listing.sort in ("open", "genus"):
            genus = listing.name.split()[0]
            plant = self.library.plants.get(PlantId(fold(genus)))
            if plant is not None or listing.known:
                self._add_missing(form, listing, plant.accepted_name if plant else genus)
            else:
                self._add_unknown(form, listing)
            return
        plants, accepted = self._plants(listing.name)
        if plants:
            self._add_missing(normal_form(accepted), listing, accepted, plants[0])
        else:
            self._add_unknown(form, listing)

    def _missing_by_common(self, listing: Listing) -> None:
        resolution = self.library.resolver.resolve(listing.name)
        plants = {candidate.plant_id for candidate in resolution.candidates}
        if resolution.match == "common" and len(plants) == 1 and resolution.confirmed:
            candidate = resolution.candidates[0]
            self._add_missing(
                normal_form(candidate.accepted_name),
                listing,
                candidate.accepted_name,
                candidate.plant_id,
            )

    def _add_missing(
        self, form: str, listing: Listing, accepted: str, plant_id: PlantId | None = None
    ) -> None:
        if form in self.missing:
            return
        plant = self.library.plants.get(plant_id) if plant_id is not None else None
        self.missing[form] = Missing(
            listing.name,
            listing.printed,
            accepted,
            listing.common,
            listing.class_name,
            plant is not None and plant.catalogued,
            tuple(self._related(accepted)),
            listing.context,
            listing.place,
        )

    def _add_unknown(self, form: str, listing: Listing) -> None:
        if form in self.unknown:
            return
        entry = self._near(listing.name)
        perhaps = self._name(entry) if entry is not None else self._suggested(listing.name)
        self.unknown[form] = Unknown(
            listing.name,
            listing.printed,
            listing.common,
            listing.class_name,
            entry,
            perhaps,
            listing.context,
            listing.place,
        )

    def _near(self, name: str) -> int | None:
        """The entry whose name is nearest in spelling, within bounds."""
        found: list[tuple[int, int]] = []
        for place, entry in enumerate(self.model.entries):
            for known in (plain_name(entry.name_as_listed), entry.accepted_name):
                distance = _edits(_form(name), _form(known)) if known else None
                if distance is not None:
                    found.append((distance, place))
        return min(found)[1] if found else None

    def _suggested(self, name: str) -> str:
        resolution = self.library.resolver.resolve(name)
        if resolution.match == "spelling" and resolution.candidates:
            return resolution.candidates[0].accepted_name
        return ""

    def _related(self, accepted: str) -> Iterable[str]:
        words = normal_form(accepted).split()
        for place, entry in enumerate(self.model.entries):
            other = normal_form(entry.accepted_name).split()
            shorter = min(len(words), len(other))
            if words != other and words[:shorter] == other[:shorter]:
                yield self._name(place)

    # Results

    def _confirmed(self, place: int, seen: Sequence[tuple[Listing, How]]) -> Confirmed:
        entry = self.model.entries[place]

        def rank(pair: tuple[Listing, How]) -> tuple[bool, bool, bool]:
            listing, how = pair
            return (
                listing.class_name != entry.class_name,
                (how == "common") == bool(entry.name_as_listed),
                listing.where == "prose",
            )

        listing, how = min(seen, key=rank)
        return Confirmed(
            place,
            self._name(place),
            listing.printed,
            how,
            entry.class_name,
            listing.class_name,
            listing.context,
            listing.place,
        )

    def _other_classes(self, confirmed: Sequence[Confirmed]) -> None:
        """A plant listed in a second class of the text, where the list has it in one."""
        for name in confirmed:
            listed = {
                self.model.entries[place].class_name
                for place in range(len(self.model.entries))
                if self.model.entries[place].accepted_name
                == self.model.entries[name.entry].accepted_name
            }
            for listing, _ in self.seen[name.entry]:
                beside = listing.class_name is not None and listing.class_name not in listed
                if beside and name.class_agrees and listing.where != "prose":
                    self._add_missing(
                        f"{_form(listing.name)} in {listing.class_name}",
                        listing,
                        self.model.entries[name.entry].accepted_name,
                    )

    def _unseen(self, place: int) -> Unseen:
        entry = self.model.entries[place]
        misspelt = next((name for name in self.unknown.values() if name.near_entry == place), None)
        mention = self.mentioned.get(place)
        return Unseen(
            place,
            self._name(place),
            entry.accepted_name,
            entry.class_name,
            perhaps=misspelt.name if misspelt else "",
            mentioned=mention.set_aside if mention else "",
            by_reference=self._by_reference(entry),
            context=misspelt.context if misspelt else mention.context if mention else "",
            place=misspelt.place if misspelt else mention.place if mention else "",
        )

    def _by_reference(self, entry: EntryModel) -> str:
        if not self.found.incorporated or self.federal is None:
            return ""
        accepted = normal_form(entry.accepted_name)
        listed = any(normal_form(entry.accepted_name) == accepted for entry in self.federal.entries)
        return self.federal.citation if listed else ""

    def _name(self, place: int) -> str:
        entry = self.model.entries[place]
        return entry.name_as_listed or entry.common_as_listed or entry.accepted_name


def _forms(entry: EntryModel) -> set[str]:
    forms = {_form(entry.accepted_name)}
    if entry.name_as_listed:
        forms.add(_form(plain_name(entry.name_as_listed)))
    return forms - {""}


@lru_cache(maxsize=16_384)
def _form(name: str) -> str:
    """Normal form; of ``Salvinia spp.`` and the like, the genus."""
    genus = re.match(r"([A-Z][a-z]+)\s+(?:spp?\.?|species)(?:\s|$)", name)
    return fold(genus.group(1)) if genus else normal_form(name)


def _commons(entry: EntryModel) -> set[str]:
    if not entry.common_as_listed:
        return set()
    whole = re.sub(r"\s*\([^)]*\)", "", entry.common_as_listed)
    parts = [whole, entry.common_as_listed, *re.split(r",|;|\bor\b", whole)]
    return {vernacular_form(part) for part in parts if len(part.strip()) > 3} - {""}


def _edits(one: str, other: str) -> int | None:
    """Edits between two names, or None where they are not near."""
    if one == other:
        return None
    words, others = one.split(), other.split()
    if len(words) != len(others) or len(words) < 2:
        return None
    bound = word_bound(max(len(words[0]), len(others[0])))
    genus = edits_within(words[0], others[0], bound)
    epithets = epithets_near(tuple(words[1:]), tuple(others[1:]))
    if genus > bound or epithets is None or genus + epithets > _MOST_EDITS:
        return None
    return genus + epithets
