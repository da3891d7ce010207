"""Plant tables as they are compiled -> the project's own tables.

``python -m data_loaders.plants.from_tables FOLDER`` may be run again on newer tables; it writes
every table but ``names_added.csv``, which people keep by hand, and keeps the rows that
``hybrids.csv`` has.
"""

import csv
import re
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from data_loaders.plants.notes import read_note
from data_loaders.plants.rows import FOLDER

_Line = Mapping[str, str]
_USED_ABROAD = re.compile(r"(?:Asian|UK)\b[^;]* use;", re.IGNORECASE)


def native_states(lines: Iterable[_Line]) -> list[dict[str, str]]:
    """One row for each taxon and way it was read, instead of one for each state.

    ``source`` ends with the table, the code and at times a remark: ``..., table nativeNWCA_2016,
    code NAT; 2011 table has CRYP``.
    """
    states: dict[tuple[str, ...], list[str]] = {}
    for line in lines:
        name = line["accepted_name"]
        _, _, read = line["source"].partition(", table ")
        table, _, code = read.partition(", code ")
        code, _, note = code.partition("; ")
        other = line["name_in_source"]
        key = (
            name,
            "" if other.casefold() == name.casefold() else other,
            line["status"],
            "2016" if "2016" in table else "2011",
            code,
            note,
        )
        states.setdefault(key, []).append(line["state"].removeprefix("US-"))
    columns = ("name", "name_in_source", "status", "table", "code", "note")
    return [
        dict(zip(columns, key, strict=True)) | {"states": ";".join(sorted(found))}
        for key, found in sorted(states.items())
    ]


def names(lines: Iterable[_Line]) -> list[dict[str, str]]:
    """The names, with what the words of their notes say in columns of their own.

    A name that is given to a plant in another country alone is left out: no label of the trade
    here means it.
    """
    rows, abroad = [], set()
    for row in lines:
        if _USED_ABROAD.match(row["note"]):
            abroad.add((row["name"].casefold(), row["accepted_name"]))
        else:
            rows.append(row)
    scientific = (row["name"] for row in rows if row["kind"] in ("accepted", "synonym"))
    genera = {name.split(" ")[0] for name in scientific}
    groups = sorted(
        row["name"] for row in rows if row["kind"] == "accepted" and row["name"].endswith("hybrids")
    )
    return [_name(row, genera, groups, abroad) for row in rows]


def _name(
    line: _Line, genera: set[str], groups: Sequence[str], abroad: set[tuple[str, str]]
) -> dict[str, str]:
    """Columns of a name.

    ``also`` leaves out capitalised words that are not genera, and species of a genus that it names
    as a whole. The words for a group of hybrids are read before those for a species.
    """
    reading = read_note(line["note"])
    found = [group for group in groups if group in line["note"]]
    found += [name for name in reading.mentions if not any(g.startswith(name) for g in found)]
    whole = {name for name in found if " " not in name}
    also = [
        name
        for name in found
        if name != line["accepted_name"]
        and (line["name"].casefold(), name) not in abroad
        and name.split(" ")[0] in genera
        and (name in whole or name.split(" ")[0] not in whole)
    ]
    only_abroad = all((line["name"].casefold(), name) in abroad for name in found)
    sense = ""
    if "misapplied" in line["note"] and line["kind"] == "synonym":
        sense = "misapplied"
    elif reading.genus_alone:
        sense = "genus"
    elif also or (reading.doubtful and not (found and only_abroad)):
        sense = "open"
    return {
        "name": line["name"],
        "kind": line["kind"],
        "accepted_name": line["accepted_name"],
        "sense": sense,
        "also": ";".join(also),
        "note": reading.gist,
    }


def hybrids(held: Iterable[_Line], further: Iterable[_Line]) -> list[dict[str, str]]:
    """The parents held already, kept as they are, and those that a compiled table adds."""
    rows = {(line["hybrid"], line["parent"]): dict(line) for line in further}
    rows |= {(line["hybrid"], line["parent"]): dict(line) for line in held}
    return [rows[key] for key in sorted(rows)]


def wetland_names(lines: Iterable[_Line]) -> list[dict[str, str]]:
    """Names of wetland plants that the catalogue does not hold."""
    columns = ("name", "rank", "wetland_indicator", "native_states", "survey")
    return [{column: line[column] for column in columns} for line in lines]


def convert(folder: Path, target: Path = FOLDER) -> None:
    """Write the project's plant tables from those in ``folder``."""
    for name in ("plants.csv", "cell_sources.csv", "wetland_indicator_by_region.csv"):
        _write(target / name, _lines(folder / name))
    _write(target / "names.csv", names(_lines(folder / "names.csv")))
    _write(
        target / "hybrids.csv",
        hybrids(_lines(target / "hybrids.csv"), _lines(folder / "hybrids_extra.csv")),
    )
    _write(target / "native_states.csv", native_states(_lines(folder / "native_by_state.csv")))
    _write(target / "wetland_names.csv", wetland_names(_lines(folder / "wetland_names.csv")))


def _lines(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def _write(path: Path, rows: Sequence[_Line]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    convert(Path(sys.argv[1]))
