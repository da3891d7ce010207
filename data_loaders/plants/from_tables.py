"""Plant tables as they are compiled -> the project's own tables.

``python -m data_loaders.plants.from_tables FOLDER`` may be run again on newer tables; it writes
every table but those named ``_added``, which people keep by hand, and keeps the rows that
``hybrids.csv`` has.
"""

import csv
import re
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from data_loaders.plants.rows import FOLDER

_DOUBT = re.compile(
    r"\b(?:ask|shared|also|any|usually|loosely|misapplied|misidentified|often|sometimes|doubtful"
    r"|confused|unnamed|genus name alone|properly|in part|separate|separated|complex|lumped|merged"
    r"|as published|trade use|older use"
    r"|uk use|us use|sense|split off|parentage|hybrid|different|sold as|another)\b",
    re.IGNORECASE,
)
_NAME = re.compile(
    r"(?<![\w.])(?P<genus>[A-Z][a-z]{2,}|[A-Z]\.)(?:\s(?:×\s)?(?P<species>[a-z][a-z-]{3,}))?"
    r"(?:\s(?P<mark>subsp\.|var\.)\s(?P<below>[a-z-]+))?"
)


@dataclass(frozen=True, slots=True)
class NoteReading:
    """Attributes:
    doubtful: the name alone does not confirm the taxon.
    genus_alone: the name is a genus name used by itself.
    mentions: genera and names that the note speaks of, to be looked up.
    gist: the note without the phrases that only name the other taxa, or the taxon itself.
    """

    doubtful: bool = False
    genus_alone: bool = False
    mentions: tuple[str, ...] = ()
    gist: str = ""


_SILENT = NoteReading()


@lru_cache(maxsize=4_096)
def read_note(note: str) -> NoteReading:
    """Read a note phrase by phrase.

    ``selection of ...`` and ``not ...`` say nothing about other taxa.
    """
    if not note:
        return _SILENT
    mentions: list[str] = []
    doubtful = False
    genus = ""
    for phrase in re.split(r"[;:]\s*", note):
        if phrase.startswith(("selection of ", "not ")):
            continue
        doubtful = doubtful or bool(_DOUBT.search(phrase))
        for found in _NAME.finditer(phrase):
            genus = _expanded(found["genus"], genus)
            words = [genus, found["species"], found["mark"], found["below"]]
            mentions.append(" ".join(word for word in words if word))
    gist = "; ".join(
        phrase
        for phrase in re.split(r";\s*", note)
        if not phrase.startswith(("shared name", "also ", "selection of "))
    )
    return NoteReading(doubtful, "genus name alone" in note, tuple(dict.fromkeys(mentions)), gist)


def _expanded(genus: str, previous: str) -> str:
    return previous if genus.endswith(".") and previous.startswith(genus[0]) else genus


_Line = Mapping[str, str]
_COMMON = ("common", "trade")
_PRINTED = "as printed by a state list"
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

    Two kinds of common name are left out, for no label of the trade here means them: one that is
    given to a plant in another country alone, and one that a list prints for its plant though it
    is the usual name of another; where that list is, it brings its plant in by itself.
    """
    all_rows = list(lines)
    usual = {(_plain(row["name"]), row["accepted_name"]) for row in all_rows if _is_usual(row)}
    taken: dict[str, list[str]] = {}
    for name, taxon in usual:
        taken.setdefault(name, []).append(taxon)
    rows, elsewhere = [], set()
    for row in all_rows:
        key = (_plain(row["name"]), row["accepted_name"])
        printed = _PRINTED in row["note"] and row["kind"] in _COMMON
        if _USED_ABROAD.match(row["note"]) or (
            printed and key not in usual and _of_another(key, taken)
        ):
            elsewhere.add(key)
        else:
            rows.append(row)
    scientific = (row["name"] for row in rows if row["kind"] in ("accepted", "synonym"))
    genera = {name.split(" ")[0] for name in scientific}
    groups = sorted(
        row["name"] for row in rows if row["kind"] == "accepted" and row["name"].endswith("hybrids")
    )
    return [_name(row, genera, groups, elsewhere) for row in rows]


def _is_usual(row: _Line) -> bool:
    return (
        row["kind"] in _COMMON
        and _PRINTED not in row["note"]
        and not _USED_ABROAD.match(row["note"])
    )


def _of_another(key: tuple[str, str], taken: Mapping[str, Sequence[str]]) -> bool:
    """Whether the name is usual for another plant, and not for the species of this one."""
    name, taxon = key
    usual = taken.get(name, ())
    return bool(usual) and not any(taxon.startswith(f"{one} ") for one in usual)


def _plain(name: str) -> str:
    """A common name by its letters alone: lists and labels part words as they like."""
    return re.sub(r"[^a-z]", "", name.casefold())


def _name(
    line: _Line, genera: set[str], groups: Sequence[str], elsewhere: set[tuple[str, str]]
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
        and (_plain(line["name"]), name) not in elsewhere
        and name.split(" ")[0] in genera
        and (name in whole or name.split(" ")[0] not in whole)
    ]
    only_elsewhere = all((_plain(line["name"]), name) in elsewhere for name in found)
    sense = ""
    if "misapplied" in line["note"] and line["kind"] == "synonym":
        sense = "misapplied"
    elif reading.genus_alone:
        sense = "genus"
    elif also or (reading.doubtful and not (found and only_elsewhere)):
        sense = "open"
    return {
        "name": line["name"],
        "kind": line["kind"],
        "accepted_name": line["accepted_name"],
        "sense": sense,
        "also": ";".join(also),
        "note": reading.gist,
    }


def hybrids(known: Iterable[_Line], further: Iterable[_Line]) -> list[dict[str, str]]:
    """The parents known already, kept as they are, and those that a compiled table adds."""
    rows = {(line["hybrid"], line["parent"]): dict(line) for line in further}
    rows |= {(line["hybrid"], line["parent"]): dict(line) for line in known}
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
