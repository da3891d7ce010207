"""Turn the tables of a compilation of law into list files, one TOML a list, and the offices to
ask.

    python -m data_loaders.regulations.from_tables TABLES_FOLDER OUT_FOLDER

TABLES_FOLDER has lists.csv, categories.csv, entries.csv and, if wanted, authorities.csv. It may be
run again on newer tables: it rewrites the files of the lists that the tables hold and leaves others
alone. Nothing is dropped: a column that it does not know is an error, an empty cell stays empty.
What a person corrects for good belongs in ``phrases.toml``, so that it outlives the next run.
"""

import csv
import re
import sys
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import tomli_w

from data_loaders.regulations.listfile import ClassModel, EntryModel, ListFile
from data_loaders.regulations.offices import FILE as OFFICES_FILE
from data_loaders.regulations.phrases import structured_class, terms_of
from service.errors import BadFile
from service.regulation.law import Topic

_Row = dict[str, str]
_LIST_COLUMNS = {
    "list_id", "jurisdiction", "title", "authority", "citation", "instrument_kind", "url",
    "effective_from", "amended", "superseded_on", "how_known", "read_url", "read_copy_date",
    "completeness", "note",
}  # fmt: skip
_CATEGORY_COLUMNS = {
    "list_id", "category", "restricted_acts", "acts_known", "duty", "permit", "wording_summary",
    "how_known",
}  # fmt: skip
_ENTRY_COLUMNS = {
    "list_id", "category", "name_as_listed", "common_as_listed", "accepted_name", "rank", "scope",
    "exceptions", "area", "condition", "how_known", "read_url",
}  # fmt: skip
_AUTHORITY_COLUMNS = {"jurisdiction", "topic", "authority", "url", "how_known"}

_TOPICS: dict[str, Topic] = {
    "sale and nursery": "trade",
    "possession and release in waters": "waters",
}
_SEEN = "seen (in lists.csv or a look-up)"
_MISSING = re.compile(r"\s*Completeness: (.+)$", re.DOTALL)
"""The end of a note that says what is not here."""


def convert(tables: Path, folder: Path) -> dict[str, int]:
    """Write the list files, and the offices where a table of them is there.

    Returns:
        Number of entries by list.

    Raises:
        BadFile: a table has an unknown column, or a row points to a list or class that is not
            there.
    """
    classes_of = _grouped(tables / "categories.csv", _CATEGORY_COLUMNS)
    entries_of = _grouped(tables / "entries.csv", _ENTRY_COLUMNS)
    rows = _rows(tables / "lists.csv", _LIST_COLUMNS)
    without_list = (classes_of.keys() | entries_of.keys()) - {row["list_id"] for row in rows}
    if without_list:
        raise BadFile(
            "lists.csv",
            "classes or entries name lists that it does not have: "
            f"{', '.join(sorted(without_list))}",
        )
    folder.mkdir(parents=True, exist_ok=True)
    for row in rows:
        model = _list_file(row, classes_of[row["list_id"]], entries_of[row["list_id"]])
        (folder / f"{model.list_id}.toml").write_text(to_toml(model), encoding="utf-8")
    if (tables / "authorities.csv").is_file():
        _write_offices(_rows(tables / "authorities.csv", _AUTHORITY_COLUMNS), folder)
    return {row["list_id"]: len(entries_of[row["list_id"]]) for row in rows}


def to_toml(model: ListFile) -> str:
    """A list as its file, every column written, structure only where there is some."""
    content = model.model_dump(mode="json", by_alias=True)
    _drop_empty_structure(content)
    for table in (*content["classes"], *content["entries"]):
        _drop_empty_structure(table)
        for term in table.get("terms", ()):
            _drop_empty_structure(term)
    return tomli_w.dumps(
        {key: ("" if value is None else value) for key, value in content.items()},
        multiline_strings=False,
    )


_STRUCTURE = (
    "read_sha256", "missing", "permit_for", "every_aquatic_plant", "open_definition", "terms",
    "taxa",
    "cultivars", "counties", "on",
)  # fmt: skip


def _drop_empty_structure(table: dict[str, object]) -> None:
    for key in _STRUCTURE:
        if key in table and not table[key]:
            del table[key]
    if "words" in table and not table["acts"]:
        del table["acts"]


def _write_offices(rows: Sequence[_Row], folder: Path) -> None:
    with (folder / OFFICES_FILE).open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["jurisdiction", "topic", "name", "url", "url_known"])
        for number, row in enumerate(rows, start=2):
            if row["topic"] not in _TOPICS or row["how_known"] not in (_SEEN, "memory"):
                raise BadFile(
                    "authorities.csv",
                    f"{row['topic']!r}, {row['how_known']!r}: not a topic, or not how it is known.",
                    place=f"row {number}",
                )
            known = "read" if row["how_known"] == _SEEN else "memory"
            writer.writerow(
                [row["jurisdiction"], _TOPICS[row["topic"]], row["authority"], row["url"], known]
            )


def _list_file(row: _Row, classes: Sequence[_Row], entries: Sequence[_Row]) -> ListFile:
    header = {key: value for key, value in row.items() if key != "instrument_kind"}
    missing = _MISSING.search(row["note"])
    plain = [_class(category) for category in classes]
    order = {rule.name: place for place, rule in enumerate(plain)}
    # As a person reads it beside the text: class by class, however the table has them.
    in_order = sorted(entries, key=lambda entry: order.get(entry["category"], len(order)))
    return ListFile.model_validate(
        {
            **header,
            "note": _MISSING.sub("", row["note"]),
            "missing": missing[1].strip() if missing else "",
            "kind": row["instrument_kind"],
            "classes": [structured_class(row["list_id"], rule).model_dump() for rule in plain],
            "entries": [_entry(entry).model_dump(by_alias=True) for entry in in_order],
        }
    )


def _class(row: _Row) -> ClassModel:
    return ClassModel.model_validate(
        {
            "name": row["category"],
            "acts": _values(row["restricted_acts"]),
            "acts_known": row["acts_known"] == "yes",
            "duty": row["duty"] or "unknown",
            "permit": row["permit"] or "unknown",
            "summary": row["wording_summary"],
            "how_known": row["how_known"],
        }
    )


def _entry(row: _Row) -> EntryModel:
    return EntryModel.model_validate(
        {
            **{
                key: value
                for key, value in row.items()
                if key not in ("list_id", "category", "scope")
            },
            "class": row["category"],
            "scope": _values(row["scope"]),
            "terms": [
                term.model_dump()
                for term in terms_of(row["exceptions"], row["area"], row["condition"])
            ],
        }
    )


def _values(cell: str) -> list[str]:
    return [value.strip() for value in cell.split(";") if value.strip()]


def _grouped(path: Path, columns: set[str]) -> dict[str, list[_Row]]:
    grouped: dict[str, list[_Row]] = defaultdict(list)
    for row in _rows(path, columns):
        grouped[row["list_id"]].append(row)
    return grouped


def _rows(path: Path, columns: set[str]) -> list[_Row]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    unknown = set(rows[0]) - columns if rows else set()
    if unknown:
        raise BadFile(path.name, f"columns that would be lost: {', '.join(sorted(unknown))}")
    return rows


if __name__ == "__main__":
    written = convert(*(Path(argument) for argument in sys.argv[1:3]))
    print(f"{len(written)} lists, {sum(written.values())} entries")
