"""Plant tables as they are compiled -> the project's own tables.

``python -m data_loaders.plants.from_tables FOLDER`` may be run again on newer tables; it writes
every table but ``names_added.csv``, which people keep by hand.
"""

import csv
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from data_loaders.plants.rows import FOLDER

_Line = Mapping[str, str]


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


def convert(folder: Path, target: Path = FOLDER) -> None:
    """Write the project's plant tables from those in ``folder``."""
    _write(target / "native_states.csv", native_states(_lines(folder / "native_by_state.csv")))


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
