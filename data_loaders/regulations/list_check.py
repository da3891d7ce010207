"""Checking one list file before it goes into the store."""

import re
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from data_loaders.geography.packaged import packaged_counties
from data_loaders.plants.taxa import tidy
from data_loaders.regulations.list_schema import (
    FileParts,
    Placed,
    Problem,
    Severity,
    place_of,
    split,
)
from data_loaders.regulations.listfile import EntryModel, ListFile, TermModel
from service.errors import UnknownValue
from service.input.json_document import parse_toml
from service.names import Resolver
from service.values.vocabulary import Jurisdiction

_COPY_DATE = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?")
_EARLIEST = date(1850, 1, 1)  # no state listed water plants before; common practice, no source
_FURTHEST_AHEAD = timedelta(days=3660)


def check_list_file(
    path: Path, resolver: Resolver, today: date | None = None
) -> tuple[Problem, ...]:
    """Every problem of a list file, in the order of the file; none is a file without a finding, not
    one without a mistake.

    Args:
        resolver: of the store that the file is meant for.
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
        raw = parse_toml(content)
    except tomllib.TOMLDecodeError as error:
        return (Problem("error", "file", f"It is not valid TOML: {error}."),)
    wrong, parts = split(raw)
    return (
        *wrong,
        *_parts_problems(parts, resolver, today or date.today()),
    )


def _parts_problems(parts: FileParts, resolver: Resolver, today: date) -> Iterable[Problem]:
    if parts.header is not None:
        yield from _header(parts.header, [entry for _, entry in parts.entries], today)
    yield from _class_names(parts)
    yield from _classes(parts)
    yield from _entries(parts, resolver)
    yield from _duplicates(parts.entries)


def _class_names(parts: FileParts) -> Iterable[Problem]:
    """Names of classes that are given twice, or that an entry has and no class."""
    for name, times in Counter(parts.class_names).items():
        if times > 1:
            yield Problem(
                "error", "classes", f"{times} classes have the name {name!r}.", "Keep one."
            )
    for place, entry in parts.entries:
        if entry.class_name not in parts.class_names:
            yield Problem(
                "error",
                f"{place_of(place, entry)}, class",
                f"{entry.class_name!r} is none of the classes.",
                f"Use one of: {', '.join(dict.fromkeys(parts.class_names)) or 'none is given'}.",
            )


def _header(model: ListFile, entries: Sequence[EntryModel], today: date) -> Iterable[Problem]:
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
        yield Problem("warning", "url", "No address of the text.")
    for name in ("url", "read_url"):
        yield from _address(getattr(model, name), name)
    yield from _dates(model, today)
    if model.how_known == "read" and law and not model.read_copy_date:
        yield Problem(
            "warning",
            "read_copy_date",
            "Read, but in a copy without a date: how old the reading is will not be known.",
        )
    if model.how_known == "memory" and any(entry.how_known == "read" for entry in entries):
        yield Problem(
            "warning",
            "how_known",
            "The list is by memory, but entries of it were read: is it not partly-read?",
        )
    if model.completeness in ("truncated", "none") and not model.missing:
        yield Problem(
            "warning",
            "missing",
            f"The list is {model.completeness}, and what is missing is not said.",
            "Say where the copy breaks off, or what was not found.",
        )
    if model.how_known == "read" and any(entry.how_known != "read" for entry in entries):
        yield Problem(
            "warning",
            "how_known",
            "The list is read, but entries of it are not: is it not partly-read?",
        )


def _dates(model: ListFile, today: date) -> Iterable[Problem]:
    for name in ("effective_from", "amended", "superseded_on"):
        day = getattr(model, name)
        if day is not None and not _EARLIEST <= day <= today + _FURTHEST_AHEAD:
            yield Problem(
                "error", name, f"{day.isoformat()} is not a likely day.", "Check the year."
            )
    if model.amended and model.superseded_on and model.amended >= model.superseded_on:
        yield Problem("error", "amended", "Amended on or after the day it was superseded.")
    if model.effective_from is None and model.amended is None:
        yield Problem(
            "warning",
            "effective_from",
            "Neither its first day nor its latest amendment is known, so it reaches back without "
            "end.",
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
            f"{model.read_copy_date!r} is not a valid date.",
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
        yield Problem("error", place, f"{address!r} is not a valid web address.")


def _classes(parts: FileParts) -> Iterable[Problem]:
    used = {entry.class_name for _, entry in parts.entries}
    for place, rule in parts.classes:
        where = f"classes[{place}] ({rule.name})"
        if not rule.acts_known:
            others = "Which other acts" if rule.acts else "Which acts"
            yield Problem(
                "warning",
                where,
                f"{others} it restricts is not established, so findings on them are undetermined.",
                "Give the acts that the text restricts, and acts_known = true where these are all.",
            )
        without_entries = rule.every_aquatic_plant or rule.open_definition
        if rule.name not in used and not without_entries and parts.entries:
            yield Problem("warning", where, "No entry is in it.")
        yield from _terms(rule.terms, where, parts)


def _entries(parts: FileParts, resolver: Resolver) -> Iterable[Problem]:
    for place, entry in parts.entries:
        where = place_of(place, entry)
        if not entry.name_as_listed and not entry.common_as_listed:
            yield Problem(
                "warning",
                where,
                "Neither the scientific nor the common name is given as the list has it.",
            )
        yield from _address(entry.read_url, f"{where}, read_url")
        yield from _name(tidy(entry.accepted_name), f"{where}, accepted_name", resolver)
        if entry.name_as_listed:
            yield from _spelling(entry, where, resolver)
        for taxon in (taxon for term in entry.terms for taxon in term.taxa):
            yield from _name(tidy(taxon), f"{where}, terms", resolver)
        for words in entry.words_without_terms:
            yield Problem(
                "error",
                where,
                f"No term says what these words do, so its findings are conditional: {words}.",
                "Add a term with these words; kind unstructured where they cannot be given one.",
            )
        yield from _terms(entry.terms, where, parts)


def _name(name: str, place: str, resolver: Resolver) -> Iterable[Problem]:
    resolution = resolver.resolve(name)
    accepted = tuple(taxon.accepted_name for taxon in resolution.candidates)
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
            f"{name} is now {accepted[0]}; the entry will be filed under that.",
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
    means = {taxon.accepted_name for taxon in accepted.candidates}
    reached = {taxon.accepted_name for taxon in listed.candidates}
    if listed.confirmed and accepted.confirmed and not means & reached:
        found = ", ".join(sorted(reached))
        yield Problem(
            "warning",
            where,
            f"The list spells {entry.name_as_listed}, known as {found}, but the entry is filed "
            f"under {entry.accepted_name}.",
        )


def _terms(terms: Sequence[TermModel], where: str, parts: FileParts) -> Iterable[Problem]:
    for term in terms:
        if term.kind == "unstructured":
            yield Problem(
                "warning",
                where,
                f"Words without a structure, so its findings stay conditional: {term.words}.",
            )
        yield from _term_dates(term, where, parts.header)
        for county in term.counties if parts.jurisdiction else ():
            try:
                packaged_counties().find(Jurisdiction(parts.jurisdiction), county)
            except UnknownValue as error:
                yield Problem("error", where, error.detail, error.next_step)


def _term_dates(term: TermModel, where: str, model: ListFile | None) -> Iterable[Problem]:
    if term.on is None or model is None:
        return
    if model.superseded_on and term.on >= model.superseded_on:
        yield Problem("error", where, f"{term.on.isoformat()} lies after the list was superseded.")
    if term.kind == "from-date" and model.effective_from and term.on < model.effective_from:
        yield Problem(
            "warning", where, f"{term.on.isoformat()} lies before the list came into force."
        )


def _duplicates(entries: Placed[EntryModel]) -> Iterable[Problem]:
    places: dict[tuple[str, str, str, str], list[int]] = defaultdict(list)
    for place, entry in entries:
        listed = entry.name_as_listed or entry.common_as_listed
        places[entry.class_name, tidy(entry.accepted_name), listed, entry.area].append(place)
    for (class_name, accepted, listed, _), found in places.items():
        if len(found) > 1:
            shown = ", ".join(str(place) for place in found)
            yield Problem(
                "error",
                f"entries {shown}",
                f"{listed or accepted} is given {len(found)} times in {class_name}.",
                "Keep one.",
            )
