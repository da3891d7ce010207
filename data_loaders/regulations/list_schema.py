"""A list file against its schema, table by table, so that one error does not hide the next."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

from pydantic import BaseModel, ValidationError

from data_loaders.regulations.listfile import ClassModel, EntryModel, ListFile
from service.values.vocabulary import JURISDICTION_NAMES

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True)
class Problem:
    """Something about a list file that a person should look at.

    Attributes:
        severity: an ``error`` keeps the file out of the store, or makes it say what the law does
            not; a ``warning`` may be as meant.
        place: entry, class or field, as a person would look for it.
    """

    severity: Severity
    place: str
    say: str
    next_step: str = ""


_M = TypeVar("_M", bound=BaseModel)


Placed = tuple[tuple[int, _M], ...]
"""Parts of the file with their place in it, counted from 0."""


@dataclass(frozen=True, slots=True)
class FileParts:
    """What of a list file fits the schema; the rest is a problem already, and hides no other.

    ``header`` is the list without classes and entries; None where a field of it is wrong.
    """

    header: ListFile | None
    jurisdiction: str
    class_names: tuple[str, ...]
    classes: Placed[ClassModel]
    entries: Placed[EntryModel]


def split(raw: dict[str, object]) -> tuple[list[Problem], FileParts]:
    wrong: list[Problem] = []
    header = _valid(ListFile, {**raw, "classes": [], "entries": []}, (), raw, wrong)
    jurisdiction = raw.get("jurisdiction")
    classes = _valid_tables(ClassModel, "classes", raw, wrong)
    entries = _valid_tables(EntryModel, "entries", raw, wrong)
    parts = FileParts(
        header,
        jurisdiction if jurisdiction in JURISDICTION_NAMES else "",
        tuple(str(table.get("name", "")) for table in _tables(raw, "classes")),
        classes,
        entries,
    )
    return wrong, parts


def _tables(raw: dict[str, object], key: str) -> list[dict[str, object]]:
    tables = raw.get(key, [])
    return (
        [table for table in tables if isinstance(table, dict)] if isinstance(tables, list) else []
    )


def _valid_tables(
    model: type[_M], key: str, raw: dict[str, object], wrong: list[Problem]
) -> Placed[_M]:
    tables = raw.get(key, [])
    if not isinstance(tables, list):
        wrong.append(Problem("error", key, "It should be a list of tables."))
        return ()
    read = (
        (place, _valid(model, table, (key, place), raw, wrong))
        for place, table in enumerate(tables)
    )
    return tuple((place, part) for place, part in read if part is not None)


def _valid(
    model: type[_M],
    table: object,
    prefix: tuple[int | str, ...],
    raw: dict[str, object],
    wrong: list[Problem],
) -> _M | None:
    try:
        return model.model_validate(table)
    except ValidationError as error:
        wrong.extend(
            _schema_problem((*prefix, *found["loc"]), found["msg"], raw)
            for found in error.errors(include_url=False)
        )
        return None


def place_of(place: int, entry: EntryModel) -> str:
    name = entry.name_as_listed or entry.common_as_listed or entry.accepted_name
    return f"entries[{place}] ({name})"


def _schema_problem(location: Sequence[int | str], message: str, raw: dict[str, object]) -> Problem:
    steps: list[str] = []
    here: object = raw
    for step in location:
        try:
            here = here[step]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            here = None
        named = _label(here) if isinstance(step, int) else ""
        steps.append(f"[{step}]{named}" if isinstance(step, int) else f".{step}")
    return Problem(
        "error", "".join(steps).lstrip(".") or "file", message.removeprefix("Value error, ") + "."
    )


def _label(table: object) -> str:
    if not isinstance(table, dict):
        return ""
    name = (
        table.get("name_as_listed")
        or table.get("common_as_listed")
        or table.get("accepted_name")
        or table.get("name")
    )
    return f" ({name})" if name else ""
