"""Reading a part of a document so that a mistake costs a field and nothing else.

Numbers with units, counts, yes and no, and the usual words are read as what they mean; a key close
to a known one is suggested; a fact that cannot be read is noted with its pointer and counts as
unknown.
"""

import re
import typing
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from types import UnionType
from typing import Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from service.checks.plan.values import Problem
from service.input.plan_document import DocumentPart
from service.input.quantity import UNITS, number, read_count, read_quantity, unit_of

_Part = TypeVar("_Part", bound=BaseModel)

_YES = frozenset({"yes", "true", "y", "1", "x"})
_NO = frozenset({"no", "false", "n", "0", "none"})
_WORDS: dict[str, dict[str, str]] = {
    "light": {
        "full-sun": "sun",
        "sunny": "sun",
        "partial-shade": "part-shade",
        "partial-sun": "part-shade",
        "part-sun": "part-shade",
        "half-shade": "part-shade",
        "semi-shade": "part-shade",
        "full-shade": "shade",
        "shady": "shade",
    },
    "flow": {
        "standing": "still",
        "none": "still",
        "slow-moving": "slow",
        "sluggish": "slow",
        "running": "moving",
        "flowing": "moving",
        "fast": "moving",
    },
    "holding": {
        "pot": "solid-pot",
        "net-pot": "basket",
        "mesh-pot": "basket",
        "planting-basket": "basket",
        "tub": "no-drain-tub",
        "no-hole-tub": "no-drain-tub",
        "ground": "open-ground",
        "in-ground": "open-ground",
        "bed": "open-ground",
        "island": "foam-island",
        "floating-island": "foam-island",
        "ring": "floating-ring",
    },
    "soil": {
        "clay": "aquatic-clay",
        "heavy-clay": "aquatic-clay",
        "aquatic-soil": "aquatic-clay",
        "pond-soil": "aquatic-clay",
        "loam": "aquatic-clay",
        "pea-gravel": "gravel",
        "peat": "peat-mix",
        "potting-mix": "peat-mix",
    },
    "place_kind": {},
    "kind": {
        "container": "tub",
        "planter": "tub",
        "half-barrel": "barrel",
        "stock-tank": "tub",
        "trough": "tub",
        "brook": "stream",
        "creek": "stream",
        "rill": "stream",
        "basin": "pond",
        "fountain": "pond",
        "water-garden": "pond",
        "bog-garden": "bog",
        "rain-garden": "bog",
        "marsh": "wetland",
        "swamp": "wetland",
        "slough": "wetland",
        "reservoir": "lake",
        "ditch": "canal",
    },
}
_WORDS["place_kind"] = _WORDS["kind"]
_NEAREST_KIND = {"wetland": "bog", "bog": "wetland", "tub": "pond", "barrel": "pond"}
"""A planted place has other kinds than a water near it. A lake or river is not turned into a pond
or stream: to plant in one is to let go.
"""


def salvaged(
    model: type[_Part],
    document: Mapping[str, Any],
    pointer: str,
    problems: list[Problem],
    needed: Sequence[str] = (),
) -> _Part | None:
    """The part with its faulty facts left out, each noted; None where a needed one is at fault."""
    faults: list[Problem] = []
    given = tidied(model, document, pointer, faults)
    for _ in range(len(given) + len(faults) + 8):
        try:
            part = model.model_validate(given)
        except ValidationError as error:
            faults += problems_of(error, pointer)
            bad = {str(fault["loc"][0]) for fault in error.errors()}
            if bad & set(needed):
                problems.extend(faults)
                return None
            for key in bad:
                places = [f["loc"][1:] for f in error.errors() if str(f["loc"][0]) == key]
                given[key] = _without(given.get(key), places)
            given = {key: value for key, value in given.items() if value is not None}
        else:
            problems.extend(faults)
            return part
    raise AssertionError("each turn leaves out what was at fault")


def tidied(
    model: type[BaseModel], document: Mapping[str, Any], pointer: str, faults: list[Problem]
) -> dict[str, Any]:
    """The values under keys that the model has, read as what they mean; other keys are noted."""
    fields = {field.alias or name: field for name, field in model.model_fields.items()}
    by_stem = {
        name.removesuffix(f"_{unit}"): name
        for name in fields
        if (unit := unit_of(name)) is not None
    }
    found: dict[str, Any] = {}
    for key, value in document.items():
        at = f"{pointer}/{_escaped(str(key))}"
        if key in fields:
            found[key] = _meant(str(key), fields[key], value, at, faults)
            continue
        full = by_stem.get(str(key))
        unit = unit_of(full) if full else None
        read = read_quantity(value, unit) if unit and isinstance(value, str) else None
        if full is not None and read is not None:
            found.setdefault(full, read)
        elif full is not None:
            faults.append(
                Problem(
                    at,
                    f"{value!r} has no unit that can be read.",
                    f'Write it with its unit, "24 in", or as {full}.',
                )
            )
        else:
            faults.append(unknown_key(str(key), fields, at))
    return found


def problems_of(error: ValidationError, pointer: str) -> list[Problem]:
    """What a model found wrong, each with its pointer."""
    found: dict[str, Problem] = {}
    for fault in error.errors(include_url=False, include_input=False):
        steps = [_escaped(str(step)) for step in fault["loc"]]
        # The branches of a union are not a place in the document.
        steps = [
            step
            for step in steps
            if step != "PlannedMeasurePart" and not step.startswith("literal[")
        ]
        said = str(fault["msg"]).removeprefix("Value error, ")
        at = "/".join([pointer, *steps])
        unknown = fault["type"] == "extra_forbidden"
        found.setdefault(at, Problem(at, "This key is not known." if unknown else f"{said}."))
    return list(found.values())


def unknown_keys(
    document: Mapping[str, Any], model: type[DocumentPart], pointer: str
) -> list[Problem]:
    """Keys that the model does not have, with the nearest that it has."""
    known = [field.alias or name for name, field in model.model_fields.items()]
    return [
        unknown_key(str(key), known, f"{pointer}/{_escaped(str(key))}")
        for key in document
        if key not in known
    ]


def unknown_key(key: str, known: Iterable[str], pointer: str) -> Problem:
    """A key that is not known, with the nearest that is."""
    names = list(known)
    near = near_miss(key, names)
    return Problem(
        pointer,
        "This key is not known, so what is under it was not read.",
        f"Did you mean {near!r}?" if near else f"Known: {', '.join(names)}.",
    )


def near_miss(key: str, known: Iterable[str]) -> str | None:
    """The known name that a person most likely meant: one with the same words, else one spelled
    much alike.

    >>> near_miss("depth", ["label", "crown_depth_cm", "count"])
    'crown_depth_cm'
    >>> near_miss("cuont", ["label", "crown_depth_cm", "count"])
    'count'
    """
    names = list(known)
    words = set(_words(key))
    shared = [(len(words & set(_words(name))), name) for name in names]
    best = max((count for count, _ in shared), default=0)
    if best:
        candidates = [name for count, name in shared if count == best]
        return min(candidates, key=lambda name: (len(_words(name)), names.index(name)))
    close = get_close_matches(key.casefold(), names, n=1)
    return close[0] if close else None


def _words(name: str) -> list[str]:
    """The words of a key or heading without its unit."""
    plain = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    words = re.split(r"[\s_-]+", plain.casefold().strip())
    return [word for word in words if word and word not in _UNIT_WORDS]


_UNIT_WORDS = {part for unit in UNITS for part in unit.split("_")} | {"ft", "in", "gal"}


def _meant(name: str, field: FieldInfo, value: Any, pointer: str, faults: list[Problem]) -> Any:
    kinds = list(_kinds(field.annotation))
    nested = next((k for k in kinds if isinstance(k, type) and issubclass(k, DocumentPart)), None)
    if nested is not None and isinstance(value, Mapping):
        return tidied(nested, value, pointer, faults)
    if not isinstance(value, str):
        return value
    return as_meant(name, kinds, value)


def as_meant(name: str, kinds: Sequence[Any], text: str) -> Any:
    """A text as the value that it stands for in a field; the text where it cannot be read."""
    plain = text.strip()
    unit = unit_of(name)
    if unit is not None and float in kinds:
        read = read_quantity(plain, unit)
        return read if read is not None else _or_text(number(plain), text)
    if int in kinds:
        return _or_text(read_count(plain), text)
    if float in kinds:
        return _or_text(number(plain), text)
    if bool in kinds:
        word = plain.casefold()
        return True if word in _YES else False if word in _NO else text
    literals = [kind for kind in kinds if get_origin(kind) is Literal]
    if literals:
        word = re.sub(r"[\s_]+", "-", plain.casefold())
        known = {value for literal in literals for value in get_args(literal)}
        meant = word if word in known else _WORDS.get(name, {}).get(word, word)
        if meant not in known and name in ("kind", "place_kind"):
            meant = _NEAREST_KIND.get(meant, meant)
        return meant if meant in known else text
    return text


def kinds_of(field: FieldInfo) -> list[Any]:
    """The plain kinds that a field may have."""
    return list(_kinds(field.annotation))


def _or_text(value: float | None, text: str) -> float | str:
    return text if value is None else value


def _kinds(annotation: Any) -> Iterable[Any]:
    """``Annotated[float | None, ...]`` as ``float`` and ``NoneType``; lists and tuples as such."""
    origin = get_origin(annotation)
    if origin in (Union, UnionType):
        for part in get_args(annotation):
            yield from _kinds(part)
    elif origin is typing.Annotated:
        yield from _kinds(get_args(annotation)[0])
    else:
        yield annotation


def _without(value: Any, faults: Sequence[tuple[int | str, ...]]) -> Any:
    """A nested part or list without its faulty members, or None for a fact itself at fault."""
    names = {fault[0] for fault in faults if fault}
    if names and all(fault for fault in faults):
        if isinstance(value, Mapping):
            return {key: member for key, member in value.items() if key not in names}
        if isinstance(value, list):
            kept = [member for index, member in enumerate(value) if index not in names]
            return kept or None
    return None


def _escaped(step: str) -> str:
    return step.replace("~", "~0").replace("/", "~1")
