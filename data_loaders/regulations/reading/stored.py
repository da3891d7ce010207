"""The list that a document is compared with: the version in force, as a list file."""

from collections.abc import Iterable
from datetime import date
from functools import cache

from pydantic import BaseModel

from data_loaders.regulations.listfile import (
    ClassModel,
    EntryModel,
    ListFile,
    TermModel,
    read_list_file,
)
from data_loaders.regulations.load import reference_lists
from service.errors import NotFound
from service.regulation.law import ListVersion, Term
from service.store.library import Library
from service.values.vocabulary import PlantId

FEDERAL_LIST = "us-federal-noxious-weeds"
"""The list that states take over by reference: 7 CFR 360.200."""


def stored_list(list_id: str, library: Library, on: date) -> ListFile:
    """The version of a list in force on a day, as it is in the store.

    The package's own file is taken where the store has the same text, for its terms are written
    there as a person wrote them.

    Raises:
        NotFound: neither the store nor the package has the list.
    """
    versions = [version for version in library.law.versions if version.list_id == list_id]
    packaged = [model for model in packaged_lists() if model.list_id == list_id]
    if not versions:
        if packaged:
            return packaged[-1]
        raise NotFound(
            f"No list has the id {list_id!r}.",
            next_step="See: reedgate coverage, or GET /v1/lists.",
        )
    version = next(
        (version for version in reversed(versions) if version.in_force(on)), versions[-1]
    )
    same = [
        model
        for model in packaged
        if model.effective_from == version.effective_from and _same_entries(model, version)
    ]
    return same[0] if same else from_store(version, library)


@cache
def packaged_lists() -> tuple[ListFile, ...]:
    """The list files of the package, in the order of their names; read once."""
    return tuple(read_list_file(path) for path in reference_lists())


def federal_list(models: Iterable[ListFile]) -> ListFile | None:
    return next((model for model in models if model.list_id == FEDERAL_LIST), None)


def _same_entries(model: ListFile, version: ListVersion) -> bool:
    return [
        (entry.class_name, entry.name_as_listed, entry.common_as_listed, entry.how_known)
        for entry in model.entries
    ] == [
        (entry.class_name, entry.name_as_listed, entry.common_as_listed, entry.how_known)
        for entry in version.entries
    ]


def from_store(version: ListVersion, library: Library) -> ListFile:
    """A version of the store in the form of a list file."""

    def terms(rows: Iterable[Term]) -> list[dict[str, object]]:
        return [
            {**_values(term, TermModel, "taxa"), "taxa": [_name(taxon) for taxon in term.taxa]}
            for term in rows
        ]

    def _name(plant: PlantId) -> str:
        found = library.plants.get(plant)
        return found.accepted_name if found else plant

    # Where a version ends may have been worked out from the next one; a file says what it says.
    header = _values(version, ListFile, "classes", "entries", "superseded_on")
    return ListFile.model_validate(
        {
            **header,
            "classes": [
                {**_values(rule, ClassModel, "terms"), "terms": terms(rule.terms)}
                for rule in version.classes
            ],
            "entries": [
                {
                    **_values(entry, EntryModel, "terms", "class_name"),
                    "class": entry.class_name,
                    "terms": terms(entry.terms),
                }
                for entry in version.entries
            ],
        }
    )


def _values(row: object, model: type[BaseModel], *left_out: str) -> dict[str, object]:
    """The fields of a model that a value of the store has too."""
    return {
        name: getattr(row, name)
        for name in model.model_fields
        if name not in left_out and hasattr(row, name)
    }
