"""The list that a document is held against: the version in force, as a list file."""

from collections.abc import Iterable
from datetime import date

from data_loaders.regulations.listfile import ListFile, read_list_file
from data_loaders.regulations.load import reference_lists
from service.errors import NotFound
from service.regulation.law import ListVersion, Term
from service.store.library import Library
from service.values.vocabulary import PlantId

FEDERAL_LIST = "us-federal-noxious-weeds"
"""The list that states take over by reference: 7 CFR 360.200."""


def held_list(list_id: str, library: Library, on: date) -> ListFile:
    """The version of a list in force on a day, as it is in the store.

    The package's own file is taken where the store has the same text, for its terms are written
    there as a person wrote them.

    Raises:
        NotFound: neither the store nor the package has the list.
    """
    versions = [each for each in library.law.versions if each.list_id == list_id]
    packaged = [each for each in packaged_lists() if each.list_id == list_id]
    if not versions:
        if packaged:
            return packaged[-1]
        raise NotFound(
            f"No list has the id {list_id!r}.",
            next_step="See: reedgate coverage, or GET /v1/lists.",
        )
    version = next((each for each in reversed(versions) if each.in_force(on)), versions[-1])
    same = [
        each
        for each in packaged
        if each.effective_from == version.effective_from and _same_entries(each, version)
    ]
    return same[0] if same else from_store(version, library)


def packaged_lists() -> list[ListFile]:
    """The list files of the package, in the order of their names."""
    return [read_list_file(path) for path in reference_lists()]


def federal_list(models: Iterable[ListFile]) -> ListFile | None:
    return next((each for each in models if each.list_id == FEDERAL_LIST), None)


def _same_entries(model: ListFile, version: ListVersion) -> bool:
    return [
        (each.class_name, each.name_as_listed, each.common_as_listed, each.how_known)
        for each in model.entries
    ] == [
        (each.class_name, each.name_as_listed, each.common_as_listed, each.how_known)
        for each in version.entries
    ]


def from_store(version: ListVersion, library: Library) -> ListFile:
    """A version of the store in the form of a list file."""

    def name(plant: PlantId) -> str:
        found = library.plants.get(plant)
        return found.accepted_name if found else plant

    def terms(rows: Iterable[Term]) -> list[dict[str, object]]:
        return [
            {
                "kind": term.kind,
                "words": term.words,
                "acts": term.acts,
                "taxa": [name(taxon) for taxon in term.taxa],
                "cultivars": term.cultivars,
                "counties": term.counties,
                "on": term.on,
            }
            for term in rows
        ]

    header = [
        "list_id",
        "jurisdiction",
        "title",
        "authority",
        "citation",
        "kind",
        "url",
        "effective_from",
        "amended",
        "how_known",
        "read_url",
        "read_copy_date",
        "completeness",
        "note",
    ]
    return ListFile.model_validate(
        {
            **{field: getattr(version, field) for field in header},
            "classes": [
                {
                    "name": each.name,
                    "acts": each.acts,
                    "duty": each.duty,
                    "permit": each.permit,
                    "permit_for": each.permit_for,
                    "every_aquatic_plant": each.every_aquatic_plant,
                    "summary": each.summary,
                    "how_known": each.how_known,
                    "terms": terms(each.terms),
                }
                for each in version.classes
            ],
            "entries": [
                {
                    "class": each.class_name,
                    "name_as_listed": each.name_as_listed,
                    "common_as_listed": each.common_as_listed,
                    "accepted_name": each.accepted_name,
                    "rank": each.rank,
                    "scope": each.scope,
                    "exceptions": each.exceptions,
                    "area": each.area,
                    "condition": each.condition,
                    "how_known": each.how_known,
                    "read_url": each.read_url,
                    "terms": terms(each.terms),
                }
                for each in version.entries
            ],
        }
    )
