"""The built-in catalogue, indexed for look-up: by normal form, vernacular form, genus, cultivar,
and for spelling.
"""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from service.names.lexicon import AUTHOR_PARTICLES
from service.names.near import DeleteIndex, epithets_near, latin_key, word_bound
from service.names.normal import fold, normal_form, vernacular_words
from service.names.values import NameKind, NameRecord
from service.values.plants import Plant
from service.values.vocabulary import PlantId

_CULTIVAR = re.compile(r"^(?P<base>.*?)\s*'(?P<cultivar>.+)'$")
_KIND_ORDER: tuple[NameKind, ...] = (
    "accepted",
    "synonym",
    "common",
    "trade",
    "cultivar",
    "misspelling",
)
_SCIENTIFIC: frozenset[NameKind] = frozenset({"accepted", "synonym"})


@dataclass(frozen=True, slots=True)
class CultivarRecord:
    """A cultivar that the catalogue names, under the name that stands before its epithet."""

    base: str
    epithet: str
    record: NameRecord


class CatalogueIndex:
    """Answers what the catalogue holds under a form. Built once, then only read."""

    def __init__(self, plants: Iterable[Plant], names: Iterable[NameRecord]) -> None:
        self.plants: dict[PlantId, Plant] = {
            plant.plant_id: plant for plant in sorted(plants, key=lambda p: p.plant_id)
        }
        self._by_form: dict[str, list[NameRecord]] = defaultdict(list)
        self._by_vernacular: dict[str, list[NameRecord]] = defaultdict(list)
        self._by_words: dict[tuple[str, ...], list[NameRecord]] = defaultdict(list)
        self._cultivars: dict[str, list[CultivarRecord]] = defaultdict(list)
        self._cultivars_under: dict[str, list[CultivarRecord]] = defaultdict(list)
        self._genera: dict[str, list[NameRecord]] = defaultdict(list)
        self._epithets: dict[str, dict[tuple[str, ...], list[NameRecord]]] = defaultdict(
            lambda: defaultdict(list)
        )
        self._epithet_words: dict[str, set[str]] = defaultdict(set)
        self._one_letter_apart: dict[str, list[NameRecord]] = {}
        seen: set[tuple[str, str, PlantId]] = set()
        records = [*names, *(_accepted(plant) for plant in self.plants.values())]
        for record in sorted(
            records,
            key=lambda r: (_KIND_ORDER.index(r.kind), r.name, r.plant_id, not r.also, not r.note),
        ):
            key = (record.name, record.kind, record.plant_id)
            if record.plant_id in self.plants and key not in seen:
                seen.add(key)
                self._add(record)
        for plant in self.plants.values():
            if plant.rank != "family" and fold(plant.family) in self._genera:
                self._genera[fold(plant.family)].append(_accepted(plant))
        self._authors = {
            fold(word)
            for plant in self.plants.values()
            for word in re.findall(r"[^\W\d_]{2,}", plant.authorship)
            if fold(word) not in AUTHOR_PARTICLES
        }

    def _add(self, record: NameRecord) -> None:
        rank = self.plants[record.plant_id].rank
        if record.kind == "accepted" and rank in ("family", "genus"):
            self._genera[fold(record.name)].append(record)
            return
        cultivar = _CULTIVAR.match(record.name)
        if cultivar:
            entry = CultivarRecord(
                normal_form(cultivar["base"]), fold(cultivar["cultivar"]), record
            )
            self._cultivars[squeezed(entry.epithet)].append(entry)
            self._cultivars_under[entry.base].append(entry)
            return
        form = normal_form(record.name)
        self._by_form[form].append(record)
        words = vernacular_words(record.name)
        self._by_vernacular["".join(words)].append(record)
        if len(words) > 1:
            self._by_words[tuple(sorted(words))].append(record)
        if record.kind in _SCIENTIFIC:
            self._add_scientific(record, form)

    def _add_scientific(self, record: NameRecord, form: str) -> None:
        for parent in form.split(" × "):
            genus, *rest = parent.split()
            epithets = tuple(word for word in rest if not word.endswith("."))
            self._genera[genus].append(record)
            self._epithet_words[genus].update(epithets)
            self._epithet_words[""].update(epithets)
            if epithets and " × " not in form:
                self._epithets[genus][epithets].append(record)

    # Exact look-ups

    def by_form(self, form: str) -> list[NameRecord]:
        """Records under a scientific normal form."""
        return self._by_form.get(form, [])

    def by_epithets(self, genus: str, epithets: tuple[str, ...]) -> list[NameRecord]:
        """Records of a genus with these epithets, whatever the rank marks between them
        (ICN Art. 53.3).
        """
        return self._epithets[genus].get(epithets, []) if genus in self._epithets else []

    def by_vernacular(self, form: str) -> list[NameRecord]:
        """Records under a vernacular form; scientific names are found by it too."""
        return self._by_vernacular.get(form, [])

    def by_words(self, words: tuple[str, ...]) -> list[NameRecord]:
        """Records with these words in any order."""
        return self._by_words.get(tuple(sorted(words)), [])

    def of_genus(self, genus: str) -> list[NameRecord]:
        """Every scientific record of a genus, synonyms too; of a family, its accepted taxa."""
        return self._genera.get(genus, [])

    def genus_taxa(self, genus: str) -> list[Plant]:
        """The genus of this name as a taxon of the store, if it has one."""
        return [
            self.plants[record.plant_id]
            for record in self._genera.get(genus, [])
            if self.plants[record.plant_id].rank == "genus" and fold(record.name) == genus
        ]

    def genera_beginning(self, letters: str) -> list[str]:
        """Genera that an abbreviation can stand for."""
        return [genus for genus in self._genera if genus.startswith(letters)]

    def cultivars(self, epithet: str) -> list[CultivarRecord]:
        """Cultivars of this epithet, in whatever genus."""
        return self._cultivars.get(squeezed(fold(epithet)), [])

    def cultivars_under(self, form: str) -> list[CultivarRecord]:
        """Cultivars whose names begin with this name."""
        return self._cultivars_under.get(form, [])

    def plant_of_parents(self, parents: frozenset[PlantId]) -> list[Plant]:
        """Named hybrids of exactly these parents (ICN Art. H.4)."""
        return self._by_parents.get(parents, [])

    @cached_property
    def _by_parents(self) -> dict[frozenset[PlantId], list[Plant]]:
        found: dict[frozenset[PlantId], list[Plant]] = defaultdict(list)
        for plant in self.plants.values():
            if plant.hybrid_parents:
                found[frozenset(plant.hybrid_parents)].append(plant)
        return found

    # Lexicon

    def is_genus(self, word: str) -> bool:
        """Families count: they are names of one word too."""
        return word in self._genera

    def has_epithet(self, genus: str, epithet: str) -> bool:
        return epithet in self._epithet_words.get(genus, ())

    def is_cultivar(self, genus: str, text: str) -> bool:
        return any(entry.base.split(" ")[0] == genus for entry in self.cultivars(text))

    def is_author(self, word: str) -> bool:
        return word in self._authors

    def is_common(self, form: str) -> bool:
        return form in self._by_vernacular

    def epithets_of(self, genus: str) -> frozenset[str]:
        """Every epithet of a name of the genus."""
        return frozenset(self._epithet_words.get(genus, ()))

    # Spelling

    @cached_property
    def _spellings(self) -> dict[str, list[NameRecord]]:
        """Records under their letters as spelt and in the singular: an edit may fall on an
        ending.
        """
        found: dict[str, list[NameRecord]] = defaultdict(list)
        for form, records in self._by_vernacular.items():
            for record in records:
                for spelling in {form, squeezed(fold(record.name))}:
                    found[spelling].append(record)
        return found

    @cached_property
    def _near_spellings(self) -> DeleteIndex:
        return DeleteIndex(self._spellings)

    @cached_property
    def _near_genera(self) -> DeleteIndex:
        return DeleteIndex(self._genera)

    @cached_property
    def _genera_by_key(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = defaultdict(list)
        for genus in self._genera:
            found[latin_key(genus)].append(genus)
        return found

    @cached_property
    def _near_cultivars(self) -> DeleteIndex:
        return DeleteIndex(self._cultivars)

    def near_letters(self, letters: str, bound: int) -> list[tuple[NameRecord, int]]:
        """Records whose letters, blanks and signs aside, are within ``bound`` edits, with the
        distance.
        """
        return [
            (r, distance)
            for near, distance in self._near_spellings.near(letters, bound)
            for r in self._spellings[near]
        ]

    def one_letter_apart(self, form: str) -> list[NameRecord]:
        """The real names of other taxa that a single edit turns this form of a real name into."""
        if form not in self._one_letter_apart:
            records = self._by_vernacular.get(form, ())
            taxa = {record.plant_id for record in records if record.kind != "misspelling"}
            self._one_letter_apart[form] = [
                other
                for other, distance in (self.near_letters(form, 1) if taxa else ())
                if distance and other.kind != "misspelling" and other.plant_id not in taxa
            ]
        return self._one_letter_apart[form]

    def near_cultivars(self, epithet: str, bound: int) -> list[tuple[CultivarRecord, int]]:
        """Cultivars whose epithet is within ``bound`` edits."""
        letters = squeezed(fold(epithet))
        return [
            (c, distance)
            for near, distance in self._near_cultivars.near(letters, bound)
            for c in self._cultivars[near]
        ]

    def near_genera(self, genus: str) -> list[tuple[str, int]]:
        """Genera within the bound for a word, and those equal but for a Latin confusion."""
        found = dict(self._near_genera.near(genus, word_bound(len(genus))))
        for other in self._genera_by_key.get(latin_key(genus), ()):
            found[other] = min(found.get(other, 1), 1) if other != genus else 0
        return sorted(found.items(), key=lambda pair: (pair[1], pair[0]))

    def near_names(self, genus: str, epithets: tuple[str, ...]) -> list[tuple[NameRecord, int]]:
        """Scientific records whose genus and epithets are each within their own bound."""
        found: list[tuple[NameRecord, int]] = []
        for near, genus_edits in self.near_genera(genus):
            for stored, records in self._epithets.get(near, {}).items():
                distance = epithets_near(epithets, stored)
                if distance is not None:
                    found.extend((record, genus_edits + distance) for record in records)
        return found


def _accepted(plant: Plant) -> NameRecord:
    return NameRecord(plant.accepted_name, "accepted", plant.plant_id)


def squeezed(text: str) -> str:
    """The letters and digits of a text."""
    return text if text.isalnum() else "".join(letter for letter in text if letter.isalnum())
