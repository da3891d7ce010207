"""Checking one list file before it goes into the store."""

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal
from urllib.parse import urlsplit

from pydantic import ValidationError

from data_loaders.geography.packaged import packaged_counties
from data_loaders.plants.taxa import tidy
from data_loaders.regulations.listfile import ClassModel, EntryModel, ListFile, TermModel
from service.errors import UnknownValue
from service.names import Resolver
from service.store.catalogue import read_names, read_plants
from service.store.database import Build
from service.values.vocabulary import Jurisdiction

Severity = Literal["error", "warning"]
_COPY_DATE = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?")
_EARLIEST = date(1850, 1, 1)  # no state listed water plants before; common practice, no source
_FURTHEST_AHEAD = timedelta(days=3660)


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


def check_list_file(
    path: Path, resolver: Resolver | None = None, today: date | None = None
) -> tuple[Problem, ...]:
    """Every problem of a list file, in the order of the file; none is a file without a finding, not
    one without a mistake.

    Args:
        resolver: of the store that the file is meant for; without it, of the package's own
            reference data.
        today: for dates that lie too far ahead.
    """
    try:
        content = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        return (
            Problem(
                "error", "file", f"It cannot be read as UTF-8 text: {error}.", "Save it as UTF-8."
            ),
        )
    try:
        raw = tomllib.loads(content)
    except tomllib.TOMLDecodeError as error:
        return (Problem("error", "file", f"It is no TOML: {error}."),)
    try:
        model = ListFile.model_validate(raw)
    except ValidationError as error:
        return tuple(
            _schema_problem(each["loc"], each["msg"], raw)
            for each in error.errors(include_url=False)
        )
    names = resolver or _reference_resolver()
    return (
        *_header(model, today or date.today()),
        *_classes(model),
        *_entries(model, names),
        *_duplicates(model.entries),
    )


@cache
def _reference_resolver() -> Resolver:
    from data_loaders.reference_store import load_reference

    with TemporaryDirectory() as folder:
        path = Path(folder) / "reference.db"
        load_reference(path)
        build = Build(path)
        try:
            return Resolver(
                read_plants(build.connection).values(), tuple(read_names(build.connection))
            )
        finally:
            build.close()


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


def _header(model: ListFile, today: date) -> Iterable[Problem]:
    law = model.kind != "own-rule"
    if not model.citation:
        yield Problem(
            "error" if law else "warning",
            "citation",
            "No citation: a finding could not be traced.",
            "Give section and code.",
        )
    if law and not model.authority:
        yield Problem(
            "error",
            "authority",
            "No authority: a person would not know whom to ask.",
            "Name the agency.",
        )
    if law and not model.url:
        yield Problem("warning", "url", "No address where the text stands.")
    for name in ("url", "read_url"):
        yield from _address(getattr(model, name), name)
    yield from _dates(model, today)
    if model.how_known == "read" and law and not model.read_copy_date:
        yield Problem(
            "warning",
            "read_copy_date",
            "Read, but in a copy without a date: how old the reading is will not be known.",
        )
    if model.how_known == "memory" and any(entry.how_known == "read" for entry in model.entries):
        yield Problem(
            "warning",
            "how_known",
            "The list is by memory, but entries of it were read: is it not partly-read?",
        )
    if model.how_known == "read" and any(entry.how_known != "read" for entry in model.entries):
        yield Problem(
            "warning",
            "how_known",
            "The list is read, but entries of it are not: is it not partly-read?",
        )


def _dates(model: ListFile, today: date) -> Iterable[Problem]:
    for name in ("effective_from", "amended", "superseded_on"):
        day = getattr(model, name)
        if day is not None and not _EARLIEST <= day <= today + _FURTHEST_AHEAD:
            yield Problem("error", name, f"{day.isoformat()} is no likely day.", "Check the year.")
    if model.amended and model.superseded_on and model.amended >= model.superseded_on:
        yield Problem("error", "amended", "Amended on or after the day it was superseded.")
    if model.effective_from is None and model.amended is None:
        yield Problem(
            "warning",
            "effective_from",
            "Neither its first day nor its latest amendment is known, so it reaches back without end.",
        )
    if not model.read_copy_date:
        return
    found = _COPY_DATE.fullmatch(model.read_copy_date)
    try:
        earliest = date(int(found[1]), int(found[2] or 1), int(found[3] or 1)) if found else None
    except ValueError:
        earliest = None
    if earliest is None:
        yield Problem(
            "error",
            "read_copy_date",
            f"{model.read_copy_date!r} is no date.",
            "Write 2024, 2024-05 or 2024-05-16.",
        )
    elif earliest > today:
        yield Problem("error", "read_copy_date", f"{model.read_copy_date} lies ahead.")


def _address(address: str, place: str) -> Iterable[Problem]:
    if not address:
        return
    try:
        parts = urlsplit(address)
        host = parts.hostname or ""
    except ValueError:
        host = ""
    if "." not in host or re.search(r"\s|[<>\"{}|\\^`]", address):
        yield Problem("error", place, f"{address!r} is no well-formed web address.")


def _classes(model: ListFile) -> Iterable[Problem]:
    used = {entry.class_name for entry in model.entries}
    for place, each in enumerate(model.classes):
        where = f"classes[{place}] ({each.name})"
        if not each.acts:
            yield Problem(
                "warning",
                where,
                "Which acts it restricts is not established, so its findings are undetermined.",
            )
        if each.name not in used and not each.every_aquatic_plant and model.entries:
            yield Problem("warning", where, "No entry stands in it.")
        yield from _terms(each, where, model)


def _entries(model: ListFile, resolver: Resolver) -> Iterable[Problem]:
    for place, entry in enumerate(model.entries):
        where = f"entries[{place}] ({entry.name_as_listed or entry.common_as_listed or entry.accepted_name})"
        if not entry.name_as_listed and not entry.common_as_listed:
            yield Problem(
                "warning",
                where,
                "Neither the scientific nor the common name stands as the list has it.",
            )
        yield from _address(entry.read_url, f"{where}, read_url")
        yield from _name(tidy(entry.accepted_name), f"{where}, accepted_name", resolver)
        if entry.name_as_listed:
            yield from _spelling(entry, where, resolver)
        for taxon in (taxon for term in entry.terms for taxon in term.taxa):
            yield from _name(tidy(taxon), f"{where}, terms", resolver)
        yield from _terms(entry, where, model)


def _name(name: str, place: str, resolver: Resolver) -> Iterable[Problem]:
    resolution = resolver.resolve(name)
    accepted = tuple(each.accepted_name for each in resolution.candidates)
    if name in accepted:
        return
    if not accepted:
        yield Problem(
            "warning",
            place,
            f"No plant is known as {name}; it would be added by its name alone.",
            "Check the spelling.",
        )
    elif resolution.confirmed:
        yield Problem(
            "warning",
            place,
            f"{name} is now {accepted[0]}; the entry will stand under that.",
            f"Write {accepted[0]}.",
        )
    else:
        # A slip of the pen is an error; a name in several senses may be what the law itself says.
        severity: Severity = "error" if resolution.match == "spelling" else "warning"
        yield Problem(
            severity,
            place,
            f"{name} is not sure: it may mean {', '.join(accepted[:4])}.",
            "Write the accepted name.",
        )


def _spelling(entry: EntryModel, where: str, resolver: Resolver) -> Iterable[Problem]:
    """The name as the list spells it should lead to the accepted name, or to a part of it or
    what it is part of.
    """
    listed = resolver.resolve(entry.name_as_listed)
    accepted = resolver.resolve(tidy(entry.accepted_name))
    means = {each.accepted_name for each in accepted.candidates}
    reached = {each.accepted_name for each in listed.candidates}
    if listed.confirmed and accepted.confirmed and not means & reached:
        found = ", ".join(sorted(reached))
        yield Problem(
            "warning",
            where,
            f"The list spells {entry.name_as_listed}, known as {found}, but the entry stands under {entry.accepted_name}.",
        )


def _terms(holder: EntryModel | ClassModel, where: str, model: ListFile) -> Iterable[Problem]:
    for term in holder.terms:
        if term.kind == "unstructured":
            yield Problem(
                "warning",
                where,
                f"Words without a structure, so its findings stay conditional: {term.words}.",
            )
        yield from _term_dates(term, where, model)
        for county in term.counties:
            try:
                packaged_counties().find(Jurisdiction(model.jurisdiction), county)
            except UnknownValue as error:
                yield Problem("error", where, error.detail, error.next_step)


def _term_dates(term: TermModel, where: str, model: ListFile) -> Iterable[Problem]:
    if term.on is None:
        return
    if model.superseded_on and term.on >= model.superseded_on:
        yield Problem("error", where, f"{term.on.isoformat()} lies after the list was superseded.")
    if term.kind == "from-date" and model.effective_from and term.on < model.effective_from:
        yield Problem(
            "warning", where, f"{term.on.isoformat()} lies before the list came into force."
        )


def _duplicates(entries: Sequence[EntryModel]) -> Iterable[Problem]:
    places: dict[tuple[str, str, str, str], list[int]] = defaultdict(list)
    for place, entry in enumerate(entries):
        listed = entry.name_as_listed or entry.common_as_listed
        places[entry.class_name, tidy(entry.accepted_name), listed, entry.area].append(place)
    for (class_name, accepted, listed, _), found in places.items():
        if len(found) > 1:
            shown = ", ".join(str(place) for place in found)
            yield Problem(
                "error",
                f"entries {shown}",
                f"{listed or accepted} stands {len(found)} times in {class_name}.",
                "Keep one.",
            )
