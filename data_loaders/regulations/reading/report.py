"""A reading as plain data, for JSON and for the terminal."""

import json
from collections.abc import Iterator
from typing import Any

from data_loaders.regulations.listfile import ListFile
from data_loaders.regulations.reading.document import Document
from data_loaders.regulations.reading.values import ListReading
from data_loaders.regulations.reading.write import Copy

Json = dict[str, Any]


def reading_json(model: ListFile, document: Document, reading: ListReading, copy: Copy) -> Json:
    """The contract's keys, each a list of objects with ``name``, and what goes with them."""
    return {
        "list_id": model.list_id,
        "jurisdiction": model.jurisdiction,
        "title": model.title,
        "citation": model.citation,
        "document": {
            "file": copy.file,
            "url": copy.url,
            "sha256": copy.sha256,
            "read_on": copy.read_on.isoformat(),
            "kind": document.kind,
            "title": document.title,
            "whole": document.whole,
        },
        "counts": {
            "entries": len(model.entries),
            "confirmed": len(reading.confirmed),
            "missing_here": len(reading.missing_here),
            "not_in_text": len(reading.not_in_text),
            "unknown_names": len(reading.unknown_names),
            "class_differs": len(reading.class_differs),
        },
        "confirmed": [
            {
                "name": listing.name,
                "entry": listing.entry,
                "printed": listing.printed,
                "how": listing.how,
                "class": listing.class_in_list,
                "class_in_text": listing.class_in_text,
                "how_known": model.entries[listing.entry].how_known,
                "context": listing.context,
                "place": listing.place,
            }
            for listing in reading.confirmed
        ],
        "missing_here": [
            {
                "name": difference.name,
                "accepted_name": difference.accepted_name,
                "printed": difference.printed,
                "common": difference.common,
                "class_in_text": difference.class_in_text,
                "catalogued": difference.catalogued,
                "related": list(difference.related),
                "context": difference.context,
                "place": difference.place,
            }
            for difference in reading.missing_here
        ],
        "not_in_text": [
            {
                "name": difference.name,
                "entry": difference.entry,
                "accepted_name": difference.accepted_name,
                "class": difference.class_in_list,
                "how_known": model.entries[difference.entry].how_known,
                "perhaps": difference.perhaps,
                "mentioned": difference.mentioned,
                "by_reference": difference.by_reference,
                "context": difference.context,
                "place": difference.place,
            }
            for difference in reading.not_in_text
        ],
        "unknown_names": [
            {
                "name": name.name,
                "printed": name.printed,
                "common": name.common,
                "class_in_text": name.class_in_text,
                "perhaps": name.perhaps,
                "near_entry": name.near_entry,
                "context": name.context,
                "place": name.place,
            }
            for name in reading.unknown_names
        ],
        "class_differs": [
            {
                "name": differ.name,
                "entry": differ.entry,
                "class": differ.class_in_list,
                "class_in_text": differ.class_in_text,
                "context": differ.context,
                "place": differ.place,
            }
            for differ in reading.class_differs
        ],
        "set_aside": [
            {
                "name": listing.name,
                "reason": listing.reason,
                "context": listing.context,
                "place": listing.place,
            }
            for listing in reading.set_aside
        ],
        "dates": [
            {
                "name": day.day.kind,
                "date": day.day.day.isoformat(),
                "same_as_list": day.day.day in (model.effective_from, model.amended),
                "context": day.context,
                "place": day.place,
            }
            for day in reading.days
        ],
        "incorporated": [
            {"name": reference.name, "context": reference.context, "place": reference.place}
            for reference in reading.incorporated
        ],
        "caution": CAUTION,
    }


CAUTION = (
    "A machine read this. It proposes, a person decides: look at the passage before you take a"
    " difference over, and confirm with the authority named in the list."
)


def reading_text(found: Json) -> Iterator[str]:
    """The differences first, for a terminal."""
    counts = found["counts"]
    yield f"{found['title']} ({found['list_id']}), {found['citation']}"
    document = found["document"]
    yield f"Document: {document['url'] or document['file']} ({document['kind']})"
    yield (
        f"{counts['confirmed']} of {counts['entries']} entries are in the text;"
        f" {counts['not_in_text']} are not; {counts['missing_here']} known plants of the text are"
        f" missing here; {counts['unknown_names']} names are not known;"
        f" {counts['class_differs']} are in another class."
    )
    if not document["whole"]:
        yield "The document breaks off: what is missing may be in the rest."
    yield from _part("In another class in the text", found["class_differs"], _class_differs)
    yield from _part("In the text, missing here", found["missing_here"], _missing)
    yield from _part("Here, not in the text", found["not_in_text"], _unseen)
    yield from _part("Names that are not known", found["unknown_names"], _unknown)
    yield from _part("Named, but not as listed", found["set_aside"], _aside)
    yield from _part("Days", found["dates"], _day)
    yield from _part("Taken over by reference", found["incorporated"], _plain)
    yield CAUTION


def _part(title: str, rows: list[Json], said: Any) -> Iterator[str]:
    if rows:
        yield ""
        yield f"{title}: {len(rows)}"
        for row in rows:
            yield f"  {said(row)}"
            if row["context"]:
                yield f"      {row['place']}: {row['context']}"


def _class_differs(row: Json) -> str:
    return f"{row['name']}: {row['class']} here, {row['class_in_text']} in the text"


def _missing(row: Json) -> str:
    accepted = "" if row["accepted_name"] == row["name"] else f" = {row['accepted_name']}"
    kind = (
        ""
        if row["catalogued"]
        else " (not among the plants of water and wet ground in the catalogue)"
    )
    under = f", {row['class_in_text']}" if row["class_in_text"] else ""
    return f"{row['name']}{accepted}{under}{kind}"


def _unseen(row: Json) -> str:
    reasons = [
        f"perhaps printed as {row['perhaps']}" if row["perhaps"] else "",
        f"named, but not as listed ({row['mentioned']})" if row["mentioned"] else "",
        f"in {row['by_reference']}, which the text takes over" if row["by_reference"] else "",
    ]
    said = "; ".join(reason for reason in reasons if reason)
    return f"{row['name']} ({row['class']}, {row['how_known']}){f': {said}' if said else ''}"


def _unknown(row: Json) -> str:
    perhaps = f": perhaps {row['perhaps']}" if row["perhaps"] else ""
    return f"{row['name']}{perhaps}"


def _aside(row: Json) -> str:
    return f"{row['name']}: {row['reason']}"


def _day(row: Json) -> str:
    strange = "" if row["same_as_list"] else " (not a day of the list here)"
    return f"{row['name']} {row['date']}{strange}"


def _plain(row: Json) -> str:
    return str(row["name"])


def dumped(found: Json) -> str:
    return json.dumps(found, indent=2, ensure_ascii=False)
