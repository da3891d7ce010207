"""How the law moved, as an Atom feed (RFC 4287): one entry for each list and day."""

import uuid
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from html import escape
from xml.etree import ElementTree as ET

from service.regulation.changes import ClassChange, DatedTerm, EntryChange, ListChanges
from service.values.vocabulary import JURISDICTION_NAMES, Jurisdiction

MEDIA_TYPE = "application/atom+xml"
_ATOM = "http://www.w3.org/2005/Atom"
_IDS = uuid.uuid5(uuid.NAMESPACE_DNS, "reedgate")
_EVENTS = {
    "compared": "compared",
    "came-into-force": "came into force",
    "replaced": "replaced by a new version",
    "lapsed": "lapsed",
    "amended": "amended",
    "dated-terms": "days of entries have come",
}
_CAUTION = (
    "It says how the lists loaded here moved; confirm with the authority. A list without dated"
    " versions here may have changed all the same."
)
_MOST_ENTRIES = 60


def changes_feed(
    changes: Sequence[ListChanges],
    jurisdiction: Jurisdiction | None,
    until: date,
    *,
    own_url: str,
    site_url: str,
) -> bytes:
    """The feed, the latest change first.

    Args:
        own_url: address of the feed itself.
        site_url: address of the service, ending in a slash.
    """
    place = JURISDICTION_NAMES[jurisdiction] if jurisdiction else "all jurisdictions"
    latest = max((changed.on for changed in changes if changed.on), default=until)
    feed = ET.Element("feed", {"xmlns": _ATOM, "xml:lang": "en"})
    _text(feed, "id", _id("changes", jurisdiction or "all"))
    _text(feed, "title", f"Lists of restricted water plants: what changed, {place}")
    _text(feed, "subtitle", _CAUTION)
    _text(feed, "updated", _moment(latest))
    ET.SubElement(feed, "link", {"rel": "self", "type": MEDIA_TYPE, "href": own_url})
    ET.SubElement(feed, "link", {"rel": "alternate", "type": "text/html", "href": site_url})
    _text(ET.SubElement(feed, "author"), "name", "Reedgate")
    _text(feed, "generator", "Reedgate")
    for change in reversed(changes):
        _entry(feed, change, until, site_url)
    ET.indent(feed, " ")
    content: bytes = ET.tostring(feed, encoding="utf-8", xml_declaration=True)
    return content


def _entry(feed: ET.Element, change: ListChanges, until: date, site_url: str) -> None:
    day = change.on or until
    entry = ET.SubElement(feed, "entry")
    _text(entry, "id", _id("change", change.list_id, day.isoformat(), change.event))
    place = JURISDICTION_NAMES[change.jurisdiction]
    _text(entry, "title", f"{place}: {change.title}, {_EVENTS[change.event]}")
    _text(entry, "updated", _moment(day))
    ET.SubElement(
        entry,
        "link",
        {
            "rel": "alternate",
            "type": "application/json",
            "href": f"{site_url}v1/lists/{change.list_id}",
        },
    )
    ET.SubElement(entry, "category", {"term": change.jurisdiction, "label": place})
    content = ET.SubElement(entry, "content", {"type": "html"})
    content.text = _content(change)


def _content(change: ListChanges) -> str:
    lines = list(_lines(change))
    shown = "".join(f"<li>{escape(line)}</li>" for line in lines[:_MOST_ENTRIES])
    if len(lines) > _MOST_ENTRIES:
        shown += f"<li>and {len(lines) - _MOST_ENTRIES} more</li>"
    note = f"<p>{escape(change.note)}</p>" if change.note else ""
    listed = f"<ul>{shown}</ul>" if shown else ""
    return f"{listed}{note}<p>{escape(_CAUTION)}</p>"


def _lines(change: ListChanges) -> Iterator[str]:
    for header in change.header:
        if header.field not in ("note", "missing"):
            yield f"{header.field}: {header.before or '(empty)'} -> {header.after or '(empty)'}"
    yield from map(_class, change.classes)
    yield from map(_plant, change.entries)
    yield from map(_dated, change.dated)


def _class(change: ClassChange) -> str:
    named = change.after or change.before
    return f"class {named.name if named else ''}: {_kinds(change.kinds)}"


def _plant(change: EntryChange) -> str:
    entry = change.entry
    name = entry.name_as_listed or entry.common_as_listed or entry.accepted_name
    moved = ""
    if change.before and change.after and change.before.class_name != change.after.class_name:
        moved = f" ({change.before.class_name} -> {change.after.class_name})"
    return f"{name}: {_kinds(change.kinds)}{moved}"


def _dated(dated: DatedTerm) -> str:
    entry = dated.entry
    return f"{entry.name_as_listed or entry.accepted_name}: {dated.effect} ({dated.term.words})"


def _kinds(kinds: Iterable[str]) -> str:
    return ", ".join(kind.replace("-", " ") for kind in kinds)


def _id(*parts: str) -> str:
    """The same for the same thing, whoever serves it."""
    return uuid.uuid5(_IDS, "/".join(parts)).urn


def _moment(day: date) -> str:
    return f"{day.isoformat()}T00:00:00Z"


def _text(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, tag).text = _printable(text)


def _printable(text: str) -> str:
    """Without what XML 1.0 has no letters for."""
    return "".join(letter for letter in text if letter in "\t\n\r" or ord(letter) >= 32)
