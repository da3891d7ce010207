"""A list file with what was read in a document marked so. Nothing is ever taken out of a list."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from data_loaders.regulations.from_tables import to_toml
from data_loaders.regulations.listfile import EntryModel, ListFile, Read
from data_loaders.regulations.reading.values import Confirmed, ListReading, Missing

_MOST_NOTE = 4_000


@dataclass(frozen=True, slots=True)
class Copy:
    """The copy of a document that was read.

    Attributes:
        file: its name, for a copy that a person brought.
        url: the address that it was taken from; empty where nobody said.
    """

    file: str
    sha256: str
    read_on: date
    url: str = ""


def marked_read(
    model: ListFile,
    reading: ListReading,
    copy: Copy,
    *,
    additions: Collection[Missing] = (),
    reclassed: Collection[Confirmed] = (),
) -> ListFile:
    """The list with the entries that were seen marked ``read``.

    An entry in another class in the text stays as it is, unless it is among ``reclassed``; what
    was not seen stays as it was. ``additions`` that a person took over come at the end.
    """
    seen = {listing.entry: listing for listing in reading.confirmed}
    taken_over = {change.entry for change in reclassed}
    entries = [
        _entry(entry, seen.get(place), place in taken_over, copy)
        for place, entry in enumerate(model.entries)
    ]
    entries += [_added(addition, model, copy) for addition in additions]
    whole = not reading.not_in_text and len(taken_over) == len(reading.class_differs)
    return model.model_copy(
        update={
            "entries": tuple(entries),
            "how_known": _how_known(model, whole, bool(seen)),
            "read_url": copy.url or model.read_url,
            "read_copy_date": copy.read_on.isoformat(),
            "read_sha256": copy.sha256,
            "note": _note(model, reading, copy),
        }
    )


def as_toml(model: ListFile, reading: ListReading, copy: Copy) -> str:
    """The file, with what was not seen named above it."""
    said = [
        f"Read by machine on {copy.read_on.isoformat()}: {copy.url or copy.file}",
        f"SHA-256 of the document: {copy.sha256}",
        *_unseen_lines(reading),
    ]
    return "".join(f"# {line}\n" for line in said) + "\n" + to_toml(model)


def _unseen_lines(reading: ListReading) -> Iterable[str]:
    if reading.not_in_text:
        yield "Not seen in the text, left as they were:"
        yield from (
            f"  {_one_line(difference.name)} ({difference.class_in_list})"
            for difference in reading.not_in_text
        )
    for differ in reading.class_differs:
        yield (
            f"Class differs, left to a person: {_one_line(differ.name)}, {differ.class_in_list} "
            f"here, {differ.class_in_text} in the text"
        )


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _entry(entry: EntryModel, seen: Confirmed | None, taken_over: bool, copy: Copy) -> EntryModel:
    if seen is None or (seen.class_agrees is False and not taken_over):
        return entry
    changes: dict[str, object] = {"how_known": _entry_known(entry, seen)}
    if copy.url:
        changes["read_url"] = copy.url
    if taken_over and seen.class_in_text:
        changes["class_name"] = seen.class_in_text
    return entry.model_copy(update=changes)


def _entry_known(entry: EntryModel, seen: Confirmed) -> Read:
    """A Latin name of the list that the text gives by a common name alone is read in part."""
    if seen.how == "common" and entry.name_as_listed and entry.how_known != "read":
        return "partly-read"
    return "read"


def _added(missing: Missing, model: ListFile, copy: Copy) -> EntryModel:
    class_name = missing.class_in_text or model.classes[0].name
    return EntryModel.model_validate(
        {
            "class": class_name,
            "name_as_listed": missing.name,
            "common_as_listed": missing.common[:200],
            "accepted_name": missing.accepted_name,
            "rank": _rank(missing.accepted_name),
            "how_known": "read",
            "read_url": copy.url,
        }
    )


def _rank(accepted: str) -> str:
    if "×" in accepted:
        return "hybrid"
    for mark, rank in ((" subsp. ", "subspecies"), (" var. ", "variety"), (" f. ", "form")):
        if mark in accepted:
            return rank
    return "species" if " " in accepted else "genus"


def _how_known(model: ListFile, whole: bool, any_seen: bool) -> Read:
    if whole and model.entries:
        return "read"
    if any_seen and model.how_known == "memory":
        return "partly-read"
    return model.how_known


def _note(model: ListFile, reading: ListReading, copy: Copy) -> str:
    said = (
        f"Read by machine on {copy.read_on.isoformat()}: {len(reading.confirmed)} of"
        f" {len(model.entries)} entries seen in the text."
    )
    if reading.not_in_text:
        names = ", ".join(_one_line(difference.name) for difference in reading.not_in_text)
        said += f" Not seen: {names}."
    earlier = model.note.split(" Read by machine on ")[0].strip()
    if earlier.startswith("Read by machine on "):
        earlier = ""
    note = f"{earlier} {said}".strip()
    return note if len(note) <= _MOST_NOTE else f"{note[: _MOST_NOTE - 4]} ..."
