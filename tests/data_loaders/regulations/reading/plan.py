"""What a made document of law says, and what a right reading of it finds.

A plan is drawn from a list that the project holds: some entries are left out, some struck through,
some misspelt, some put under another class; plants are added, look-alikes of listed ones first;
names are mentioned that are not listings. The shapes in ``shapes.py`` print the plan.
"""

import random
from collections.abc import Iterable
from dataclasses import dataclass, field

from data_loaders.regulations.listfile import EntryModel, ListFile
from service.names import normal_form
from service.store.library import Library
from service.values.vocabulary import PlantId

DRY_LAND = (
    "Centaurea stoebe",
    "Euphorbia esula",
    "Alliaria petiolata",
    "Ampelopsis glandulosa",
    "Cynanchum louiseae",
    "Onopordum acanthium",
    "Linaria dalmatica",
    "Celastrus orbiculatus",
    "Berberis thunbergii",
    "Carduus nutans",
)
"""Weeds of dry land: real names that a catalogue of water plants does not have."""


@dataclass(frozen=True, slots=True)
class Line:
    """One listing of the document.

    Attributes:
        entry: position in the list that it prints; None for a plant that was added.
        latin: as the list spells it; empty where the list has no Latin name.
        struck: printed, and struck through.
    """

    entry: int | None
    latin: str
    common: str
    class_name: str
    author: str = ""
    struck: bool = False


@dataclass(frozen=True, slots=True)
class Mention:
    """A name in prose that is not a listing, with the words before and after it."""

    latin: str
    before: str
    after: str = "."

    @property
    def sentence(self) -> str:
        return f"{self.before} {self.latin}{self.after}"


@dataclass(frozen=True)
class Plan:
    """A document to print, and what is to be found in it.

    Attributes:
        seen: entries that the text lists under their own name -> the class that they stand in.
        gone: entries that the text does not list: left out, or struck through.
        misspelt: name as printed -> entry that it misspells.
        added: accepted names of catalogue plants that the list does not have.
        strangers: names of plants that the catalogue does not have.
        moved: entries printed under another class -> that class.
    """

    list_id: str
    model: ListFile
    lines: tuple[Line, ...]
    mentions: tuple[Mention, ...]
    seen: dict[int, str]
    gone: frozenset[int]
    misspelt: dict[str, int]
    added: frozenset[str]
    strangers: frozenset[str]
    moved: dict[int, str]
    day: str = "January 7, 2018"

    @property
    def classes(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(line.class_name for line in self.lines))

    def of_class(self, name: str) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.class_name == name)


@dataclass
class _Draft:
    rng: random.Random
    lines: list[Line] = field(default_factory=list)
    gone: set[int] = field(default_factory=set)
    misspelt: dict[str, int] = field(default_factory=dict)
    added: set[str] = field(default_factory=set)
    strangers: set[str] = field(default_factory=set)
    moved: dict[int, str] = field(default_factory=dict)


def draw_plan(model: ListFile, library: Library, seed: str, *, strike: bool = False) -> Plan:
    """A plan for one list. The same seed draws the same plan."""
    draft = _Draft(random.Random(seed))
    forms = {normal_form(record.name) for record in library.names} | {
        normal_form(plant.accepted_name) for plant in library.plants.values()
    }
    single = [place for place, entry in enumerate(model.entries) if _once(model, place)]
    draft.rng.shuffle(single)
    binomials = [place for place in single if _is_binomial(model.entries[place].name_as_listed)]
    removed = set(single[: max(1, len(single) // 10)]) if len(single) > 2 else set()
    free = [place for place in binomials if place not in removed]
    struck = set(free[:1]) if strike and len(free) > 3 else set()
    wrong = set(free[1:2]) if len(free) > 3 else set()
    moved = set(free[2:3]) if len(free) > 3 and len(model.classes) > 1 else set()
    for place, entry in enumerate(model.entries):
        if place in removed:
            draft.gone.add(place)
            continue
        line = _line(place, entry, library)
        if place in struck:
            draft.gone.add(place)
            line = _with(line, struck=True)
        elif place in wrong:
            spelt = _misspelt(line.latin, forms, draft.rng)
            draft.misspelt[spelt] = place
            line = _with(line, latin=spelt, author="")
        elif place in moved:
            others = [
                list_class.name
                for list_class in model.classes
                if list_class.name != entry.class_name
            ]
            used = [name for name in others if any(e.class_name == name for e in model.entries)]
            if used:
                draft.moved[place] = draft.rng.choice(used)
                line = _with(line, class_name=draft.moved[place])
        draft.lines.append(line)
    _add(draft, model, library, forms)
    ordered = sorted(draft.lines, key=lambda line: _class_order(model, line.class_name))
    seen = {
        line.entry: line.class_name
        for line in ordered
        if line.entry is not None
        and line.entry not in draft.gone
        and line.entry not in draft.misspelt.values()
    }
    return Plan(
        model.list_id,
        model,
        tuple(ordered),
        _mentions(draft, model, library),
        seen,
        frozenset(draft.gone),
        draft.misspelt,
        frozenset(draft.added),
        frozenset(draft.strangers),
        draft.moved,
    )


def _once(model: ListFile, place: int) -> bool:
    """Whether no other entry of the list is of the same taxon."""
    accepted = normal_form(model.entries[place].accepted_name)
    return sum(normal_form(entry.accepted_name) == accepted for entry in model.entries) == 1


def _is_binomial(name: str) -> bool:
    words = name.split()
    return len(words) == 2 and words[1].isalpha() and words[1].islower() and len(words[1]) > 4


def _line(place: int, entry: EntryModel, library: Library) -> Line:
    found = library.resolver.resolve(entry.name_as_listed).candidates
    plant = library.plants.get(found[0].plant_id) if found else None
    own = plant is not None and plant.accepted_name == entry.name_as_listed
    return Line(
        place,
        entry.name_as_listed,
        entry.common_as_listed,
        entry.class_name,
        plant.authorship if plant is not None and own else "",
    )


def _with(line: Line, **changes: object) -> Line:
    values = {name: getattr(line, name) for name in Line.__slots__} | changes
    return Line(**values)


def _misspelt(name: str, forms: set[str], rng: random.Random) -> str:
    """One letter of the epithet left out or doubled, so that no known name results."""
    genus, epithet = name.split()
    while True:
        place = rng.randrange(1, len(epithet) - 1)
        other = rng.choice(
            [
                epithet[:place] + epithet[place + 1 :],
                epithet[:place] + epithet[place] + epithet[place:],
            ]
        )
        spelt = f"{genus} {other}"
        if other != epithet and normal_form(spelt) not in forms:
            return spelt


def _add(draft: _Draft, model: ListFile, library: Library, forms: set[str]) -> None:
    """Two catalogue plants that the list does not have, one of them a look-alike of a listed one
    (of the same genus), and one weed of dry land.
    """
    listed = _reached(model, library)
    genera = {entry.accepted_name.split()[0] for entry in model.entries}
    plants = [
        plant
        for plant in library.plants.values()
        if plant.catalogued
        and plant.rank == "species"
        and _is_binomial(plant.accepted_name)
        and plant.plant_id not in listed
        and PlantId(plant.genus.lower()) not in listed
        and library.resolver.resolve(plant.accepted_name).confirmed
    ]
    alike = sorted(p.accepted_name for p in plants if p.genus in genera)
    apart = sorted(p.accepted_name for p in plants if p.genus not in genera)
    draft.added |= {draft.rng.choice(names) for names in (alike, apart) if names}
    known = {normal_form(entry.name_as_listed) for entry in model.entries} | forms
    draft.strangers |= {
        draft.rng.choice([name for name in DRY_LAND if normal_form(name) not in known])
    }
    classes = sorted({line.class_name for line in draft.lines})
    for name in sorted(draft.added | draft.strangers):
        draft.lines.insert(
            draft.rng.randrange(len(draft.lines) + 1),
            Line(None, name, "", draft.rng.choice(classes)),
        )


def _reached(model: ListFile, library: Library) -> set[PlantId]:
    names = [
        name
        for entry in model.entries
        for name in (entry.accepted_name, entry.name_as_listed, entry.common_as_listed)
        if name
    ]
    return {
        candidate.plant_id
        for resolution in library.resolver.resolve_all(names)
        for candidate in resolution.candidates
    }


def _mentions(draft: _Draft, model: ListFile, library: Library) -> tuple[Mention, ...]:
    """Names in prose that are not listings: entries left out, and plants that nobody lists."""
    listed = _reached(model, library)
    others = sorted(
        plant.accepted_name
        for plant in library.plants.values()
        if plant.catalogued
        and plant.rank == "species"
        and _is_binomial(plant.accepted_name)
        and plant.plant_id not in listed
        and plant.accepted_name not in draft.added
        and PlantId(plant.genus.lower()) not in listed
    )
    gone = [
        model.entries[place].name_as_listed
        for place in sorted(draft.gone)
        if _is_binomial(model.entries[place].name_as_listed)
    ]
    first, second, third = draft.rng.sample(others, 3)
    found = [
        Mention(first, "This rule does not include"),
        Mention(second, "A person may possess any plant of this list except"),
        Mention(third, "Listed plants should not be confused with"),
    ]
    if gone:
        found.append(
            Mention(gone[0], "The department formerly listed", ", which was removed in 2016.")
        )
    return tuple(found)


def _class_order(model: ListFile, name: str) -> int:
    return [list_class.name for list_class in model.classes].index(name)


def names_of(lines: Iterable[Line]) -> list[str]:
    """What is printed, Latin before common."""
    return [line.latin or line.common for line in lines]
