"""Turn the three tables of a compilation of law into list files, one TOML a list.

    python -m data_loaders.regulations.from_tables LISTS.csv CATEGORIES.csv ENTRIES.csv OUT_FOLDER

May be run again on newer tables: it rewrites the files of the lists that the tables hold and leaves
    others alone. Nothing is dropped: a
column that it does not know is an error, an empty cell stays empty.
"""

import csv
import sys
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import tomli_w

from data_loaders.regulations.listfile import ClassModel, EntryModel, ListFile
from data_loaders.regulations.phrases import structured_class, terms_of
from service.errors import BadFile

_Row = dict[str, str]
_LIST_COLUMNS = {
    "list_id", "jurisdiction", "title", "authority", "citation", "instrument_kind", "url", "effective_from", "amended", "superseded_on",
    "how_known", "read_url", "read_copy_date", "completeness", "note",
}  # fmt: skip
_CATEGORY_COLUMNS = {
    "list_id",
    "category",
    "restricted_acts",
    "duty",
    "permit",
    "wording_summary",
    "how_known",
}
_ENTRY_COLUMNS = {
    "list_id", "category", "name_as_listed", "common_as_listed", "accepted_name", "rank", "scope", "exceptions", "area", "condition",
    "how_known", "read_url",
}  # fmt: skip


def convert(lists: Path, categories: Path, entries: Path, folder: Path) -> dict[str, int]:
    """Write the list files and return the number of entries by list.

    Raises:
        BadFile: a table has an unknown column, or a row points to a list or class that is not
            there.
    """
    classes_of = _grouped(categories, _CATEGORY_COLUMNS)
    entries_of = _grouped(entries, _ENTRY_COLUMNS)
    rows = _rows(lists, _LIST_COLUMNS)
    strangers = (classes_of.keys() | entries_of.keys()) - {row["list_id"] for row in rows}
    if strangers:
        raise BadFile(
            lists.name,
            f"classes or entries stand under lists that it does not have: {', '.join(sorted(strangers))}",
        )
    folder.mkdir(parents=True, exist_ok=True)
    for row in rows:
        model = _list_file(row, classes_of[row["list_id"]], entries_of[row["list_id"]])
        (folder / f"{model.list_id}.toml").write_text(to_toml(model), encoding="utf-8")
    return {row["list_id"]: len(entries_of[row["list_id"]]) for row in rows}


def to_toml(model: ListFile) -> str:
    """A list as its file, every column written, structure only where there is some."""
    content = model.model_dump(mode="json", by_alias=True)
    for each in (*content["classes"], *content["entries"]):
        _drop_empty_structure(each)
        for term in each.get("terms", ()):
            _drop_empty_structure(term)
    return tomli_w.dumps(
        {key: ("" if value is None else value) for key, value in content.items()},
        multiline_strings=False,
    )


_STRUCTURE = ("permit_for", "every_aquatic_plant", "terms", "taxa", "cultivars", "counties", "on")


def _drop_empty_structure(table: dict[str, object]) -> None:
    for key in _STRUCTURE:
        if key in table and not table[key]:
            del table[key]
    if "words" in table and not table["acts"]:
        del table["acts"]


def _list_file(row: _Row, classes: Sequence[_Row], entries: Sequence[_Row]) -> ListFile:
    header = {key: value for key, value in row.items() if key != "instrument_kind"}
    plain = [_class(each) for each in classes]
    return ListFile.model_validate(
        {
            **header,
            "kind": row["instrument_kind"],
            "classes": [structured_class(row["list_id"], each).model_dump() for each in plain],
            "entries": [_entry(each).model_dump(by_alias=True) for each in entries],
        }
    )


def _class(row: _Row) -> ClassModel:
    return ClassModel.model_validate(
        {
            "name": row["category"],
            "acts": _values(row["restricted_acts"]),
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
                each.model_dump()
                for each in terms_of(row["exceptions"], row["area"], row["condition"])
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
    written = convert(*(Path(argument) for argument in sys.argv[1:5]))
    print(f"{len(written)} lists, {sum(written.values())} entries")
