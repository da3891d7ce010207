"""The names that the loaded lists print: names of their taxa everywhere, and candidates in the
place of the list.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from service.names import NameRecord, normal_form, printed_names, vernacular_form
from service.regulation.law import Entry, LawBook
from service.values.vocabulary import Jurisdiction, PlantId


@dataclass(frozen=True, slots=True)
class _Printed:
    name: str
    latin: bool
    plant_id: PlantId
    jurisdiction: Jurisdiction
    source_id: str


class ListedNames:
    """The printed names of a law book, by form."""

    def __init__(self, law: LawBook) -> None:
        self._printed = tuple(_printed(law))
        found: dict[str, dict[Jurisdiction, dict[PlantId, None]]] = defaultdict(dict)
        for printed in self._printed:
            form = _form(printed.name, latin=printed.latin)
            found[form].setdefault(printed.jurisdiction, {})[printed.plant_id] = None
        self._by_form: Mapping[str, Mapping[Jurisdiction, Iterable[PlantId]]] = found

    def records(self, catalogue: Iterable[NameRecord]) -> Iterator[NameRecord]:
        """Names of lists that the catalogue lacks, each for the one plant that lists print it for.

        A name that the catalogue has for another plant stays that plant's; the list's taxon joins
        it in the place of the list alone.
        """
        known = {
            form
            for record in catalogue
            for form in (normal_form(record.name), vernacular_form(record.name))
        }
        plants: dict[str, set[PlantId]] = defaultdict(set)
        for printed in self._printed:
            plants[_form(printed.name, latin=printed.latin)].add(printed.plant_id)
        for printed in self._printed:
            form = _form(printed.name, latin=printed.latin)
            if form and form not in known:
                known.add(form)
                for plant_id in sorted(plants[form]):
                    yield NameRecord(
                        printed.name,
                        "synonym" if printed.latin and len(plants[form]) == 1 else "common",
                        plant_id,
                        source_id=printed.source_id,
                    )

    def taxa(
        self, names: Iterable[str], *, latin_only: bool
    ) -> Mapping[Jurisdiction, tuple[PlantId, ...]]:
        """Taxa that lists print under one of these names, by the jurisdiction of the list.

        Args:
            latin_only: a common name of a list is not looked at: the label has a scientific name
                that is sure.
        """
        found: dict[Jurisdiction, dict[PlantId, None]] = {}
        wanted = dict.fromkeys(names)
        forms = dict.fromkeys(map(normal_form, wanted))
        if not latin_only:
            forms |= dict.fromkeys(map(vernacular_form, wanted))
        for form in forms:
            if form in self._by_form:
                for jurisdiction, plants in self._by_form[form].items():
                    found.setdefault(jurisdiction, {}).update(dict.fromkeys(plants))
        return {jurisdiction: tuple(found[jurisdiction]) for jurisdiction in sorted(found)}


def _printed(law: LawBook) -> Iterator[_Printed]:
    for version in law.versions:
        if not version.is_law:
            continue
        for entry in version.entries:
            for name, latin in _names(entry):
                yield _Printed(name, latin, entry.plant_id, version.jurisdiction, version.list_id)


def _names(entry: Entry) -> Iterator[tuple[str, bool]]:
    for name in printed_names(entry.name_as_listed):
        yield name, True
    for name in printed_names(entry.common_as_listed):
        yield name, False


def _form(name: str, *, latin: bool) -> str:
    return normal_form(name) if latin else vernacular_form(name)
