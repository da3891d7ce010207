"""What a load read, what it kept, and what it set apart and why: one form for every loader.

Rows read are rows kept and rows set apart. ``LoadReport.as_json`` is what ``reedgate load ...
--json`` prints, and what a program that loads should read::

    {"kind": "waters", "unchanged": false, "rows_read": 10, "rows_kept": 8,
     "set_apart": {"no geometry": 2}, "totals": {"waters": 5, "flowlines": 3},
     "files": [{"file": "creek.gpkg", "source_id": "waters/0f3a...", "sha256": "...",
                "rows_read": 10, "rows_kept": 8, "set_apart": {...}, "remarks": {...},
                "notes": ["..."], "examples": {...}, "other_plants": [["...", 3]],
                "undelivered": 0, "unchanged": false}]}
"""

import json
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from data_loaders.build import Draft
from service.errors import BadFile
from service.store.database import Build

EXAMPLES = 3
OTHER_PLANTS = 20


@dataclass(frozen=True, slots=True)
class FileReport:
    """One file, or one request to a live service.

    Attributes:
        file: its name as given; two files of one name have a report each.
        source_id: of its row in the table of sources, made from its content.
        set_apart: reason to rows left out.
        remarks: on rows that were kept (mended, doubtful), to their number.
        notes: sentences a person should read besides, layers passed over among them.
        examples: for some reasons the first records set apart, by their own id.
        other_plants: names that are not of the store, most frequent first, with their rows.
        undelivered: records that a live service announced and did not give.
        unchanged: the same content was loaded before, so nothing was done.
    """

    file: str
    source_id: str
    sha256: str
    rows_read: int = 0
    rows_kept: int = 0
    set_apart: Mapping[str, int] = field(default_factory=dict)
    remarks: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    examples: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    other_plants: tuple[tuple[str, int], ...] = ()
    undelivered: int = 0
    unchanged: bool = False

    def counts(self) -> dict[str, object]:
        """What goes into the ``report`` column of the table of sources."""
        return {
            "set_apart": dict(sorted(self.set_apart.items())),
            "remarks": dict(sorted(self.remarks.items())),
            "notes": list(self.notes),
            "examples": {reason: list(keys) for reason, keys in sorted(self.examples.items())},
            "other_plants": [list(pair) for pair in self.other_plants],
            "undelivered": self.undelivered,
        }

    def as_json(self) -> dict[str, object]:
        """As in the docstring of this module."""
        return {
            "file": self.file,
            "source_id": self.source_id,
            "sha256": self.sha256,
            "rows_read": self.rows_read,
            "rows_kept": self.rows_kept,
            **self.counts(),
            "unchanged": self.unchanged,
        }


@dataclass(frozen=True, slots=True)
class LoadReport:
    """One load of one or more files, whole or not at all.

    Attributes:
        kind: of data, as in the table of sources.
        totals: what the rows became or the store now holds, such as waters or links, to number.
    """

    kind: str
    files: tuple[FileReport, ...]
    totals: Mapping[str, int] = field(default_factory=dict)

    @property
    def rows_read(self) -> int:
        return sum(report.rows_read for report in self.files)

    @property
    def rows_kept(self) -> int:
        return sum(report.rows_kept for report in self.files)

    @property
    def set_apart(self) -> dict[str, int]:
        """Rows left out, by reason, over all files."""
        return _summed(report.set_apart for report in self.files)

    @property
    def remarks(self) -> dict[str, int]:
        """Remarks on rows kept, over all files."""
        return _summed(report.remarks for report in self.files)

    @property
    def notes(self) -> tuple[str, ...]:
        return tuple(note for report in self.files for note in report.notes)

    @property
    def unchanged(self) -> bool:
        """Whether every file was loaded before."""
        return bool(self.files) and all(report.unchanged for report in self.files)

    def as_json(self) -> dict[str, object]:
        """As in the docstring of this module."""
        return {
            "kind": self.kind,
            "unchanged": self.unchanged,
            "rows_read": self.rows_read,
            "rows_kept": self.rows_kept,
            "set_apart": self.set_apart,
            "totals": dict(self.totals),
            "files": [report.as_json() for report in self.files],
        }


class NothingKept(BadFile):
    """A load of which no row could be kept; the store is as it was. ``report`` has the counts."""

    title = "Nothing of it could be kept"

    def __init__(self, report: LoadReport, *, next_step: str = "") -> None:
        reasons = [
            f"{rows:,} set apart: {reason}"
            for reason, rows in sorted(report.set_apart.items(), key=lambda pair: -pair[1])
        ]
        read = f"0 of {report.rows_read:,} rows kept" if report.rows_read else "it holds no rows"
        super().__init__(
            ", ".join(dict.fromkeys(file.file for file in report.files)),
            "; ".join([read, *reasons, *report.notes]) + ".",
            next_step=next_step or "The store is as it was.",
        )
        self.report = report


class Tally:
    """Counts of one file while it is read.

    ``read`` every row once; then ``keep`` it, or set it ``apart`` once.
    """

    def __init__(self) -> None:
        self.rows_read = 0
        self.rows_kept = 0
        self.set_apart: Counter[str] = Counter()
        self.remarks: Counter[str] = Counter()
        self.examples: defaultdict[str, list[str]] = defaultdict(list)
        self.others: Counter[str] = Counter()
        self.undelivered = 0
        self._notes: dict[str, None] = {}

    def read(self, rows: int = 1) -> None:
        self.rows_read += rows

    def keep(self, rows: int = 1) -> None:
        self.rows_kept += rows

    def apart(self, reason: str, rows: int = 1) -> None:
        if rows:
            self.set_apart[reason] += rows

    def remark(self, what: str, rows: int = 1) -> None:
        if rows:
            self.remarks[what] += rows

    def note(self, sentence: str) -> None:
        self._notes[sentence] = None

    def report(self, file: str, source_id: str, sha256: str) -> FileReport:
        """The report, once every row is accounted for.

        Raises:
            AssertionError: rows have been lost, which is an error of the program.
        """
        apart = sum(self.set_apart.values())
        if self.rows_read != self.rows_kept + apart:
            raise AssertionError(
                f"{self.rows_read} rows read, {self.rows_kept} kept, {apart} set apart"
            )
        others = sorted(self.others.items(), key=lambda pair: (-pair[1], pair[0]))
        return FileReport(
            file,
            source_id,
            sha256,
            self.rows_read,
            self.rows_kept,
            dict(self.set_apart),
            dict(self.remarks),
            tuple(self._notes),
            {reason: tuple(keys) for reason, keys in self.examples.items()},
            tuple(others[:OTHER_PLANTS]),
            self.undelivered,
        )


def source_id_of(kind: str, sha256: str) -> str:
    """The id of a source from its content, whatever its file is called."""
    return f"{kind}/{sha256[:16]}"


def stored_report(
    connection: sqlite3.Connection, file: str, source_id: str, sha256: str
) -> FileReport | None:
    """The report of an earlier load of the very same content; None where there was none."""
    row = connection.execute(
        "SELECT rows_read, rows_kept, report FROM source WHERE source_id = ? AND sha256 = ?",
        (source_id, sha256),
    ).fetchone()
    if row is None:
        return None
    counts: dict[str, Any] = json.loads(row[2])
    return FileReport(
        file,
        source_id,
        sha256,
        row[0],
        row[1],
        counts.get("set_apart", {}),
        counts.get("remarks", {}),
        tuple(counts.get("notes", ())),
        {reason: tuple(keys) for reason, keys in counts.get("examples", {}).items()},
        tuple((str(name), int(rows)) for name, rows in counts.get("other_plants", ())),
        counts.get("undelivered", 0),
        unchanged=True,
    )


def loaded_before(target: Path, kind: str, files: Mapping[Path, str]) -> LoadReport | None:
    """The report of a load whose files all went in before; None where there is work to do.

    Args:
        files: path to content hash.

    Raises:
        StoreMissing, StoreDamaged, StoreOutdated: no store to add to.
    """
    with closing(Build(target)) as present:
        reports = [
            stored_report(present.connection, path.name, source_id_of(kind, sha256), sha256)
            for path, sha256 in files.items()
        ]
    found = tuple(report for report in reports if report is not None)
    return LoadReport(kind, found) if len(found) == len(reports) and found else None


def write_source(
    draft: Draft,
    report: FileReport,
    *,
    kind: str,
    title: str,
    version: str = "",
    licence: str = "",
    citation: str = "",
    url: str = "",
) -> None:
    """Put the row of a source, replacing an earlier one of the same id."""
    draft.db.table("source").upsert(
        {
            "source_id": report.source_id,
            "kind": kind,
            "title": title,
            "version": version,
            "licence": licence,
            "citation": citation,
            "url": url,
            "sha256": report.sha256,
            "rows_read": report.rows_read,
            "rows_kept": report.rows_kept,
            "report": json.dumps(report.counts(), ensure_ascii=False),
        },
        pk="source_id",
    )


def replaced_source(draft: Draft, kind: str, name: str) -> str:
    """The id of the source of a kind that a person names by its id or by its file.

    Raises:
        BadFile: no source is called so, or several are.
    """
    rows = draft.connection.execute(
        "SELECT source_id, title FROM source WHERE kind = ? AND origin = 'added'"
        " ORDER BY source_id",
        (kind,),
    ).fetchall()
    found = [str(source_id) for source_id, title in rows if name in (source_id, title)]
    if len(found) == 1:
        return found[0]
    listed = "; ".join(f"{source_id} ({title})" for source_id, title in rows) or "none"
    raise BadFile(
        name,
        f"{'several sources are' if found else 'no source is'} called so, so none was replaced.",
        next_step=f"Name one of these by its id: {listed}.",
    )


def _summed(counts: Iterable[Mapping[str, int]]) -> dict[str, int]:
    total: Counter[str] = Counter()
    for some in counts:
        total.update(some)
    return dict(total)
