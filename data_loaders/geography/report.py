"""What a load read, what it kept, and what it set apart and why.

Rows read are rows kept and rows set apart.
"""

import json
import sqlite3
from collections import Counter
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from data_loaders.build import Draft


@dataclass(frozen=True, slots=True)
class LoadReport:
    """Counts of one load.

    Attributes:
        set_apart: reason to number of rows left out.
        repaired: what was mended in rows that were kept, to their number.
        notes: what a person should know besides, layers passed over among it.
        unchanged: the same file was loaded before, so nothing was done.
    """

    rows_read: int
    rows_kept: int
    set_apart: Mapping[str, int] = field(default_factory=dict)
    repaired: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    unchanged: bool = False

    def as_json(self) -> str:
        """Counts of the rows set apart by reason, then ``repaired`` and ``notes``."""
        counts: dict[str, object] = dict(sorted(self.set_apart.items()))
        counts |= {"repaired": dict(sorted(self.repaired.items())), "notes": list(self.notes)}
        return json.dumps(counts, ensure_ascii=False)


class Tally:
    """Counts while a load runs. ``read`` every row once; then keep it, or set it ``apart`` once."""

    def __init__(self) -> None:
        self.rows_read = 0
        self._apart: Counter[str] = Counter()
        self._repaired: Counter[str] = Counter()
        self._notes: dict[str, None] = {}

    def read(self, rows: int = 1) -> None:
        self.rows_read += rows

    def apart(self, reason: str, rows: int = 1) -> None:
        if rows:
            self._apart[reason] += rows

    def repaired(self, what: str, rows: int = 1) -> None:
        if rows:
            self._repaired[what] += rows

    def note(self, sentence: str) -> None:
        self._notes[sentence] = None

    def report(self, *, kept: int) -> LoadReport:
        """The report, once every row is accounted for.

        Raises:
            AssertionError: rows have been lost, which is an error of the program.
        """
        apart = sum(self._apart.values())
        if self.rows_read != kept + apart:
            raise AssertionError(f"{self.rows_read} rows read, {kept} kept, {apart} set apart")
        return LoadReport(
            self.rows_read, kept, dict(self._apart), dict(self._repaired), tuple(self._notes)
        )


def already_loaded(target: Path, source_id: str, sha256: str) -> LoadReport | None:
    """The report of an earlier load of the very same content under the same id."""
    if not target.exists():
        return None
    with closing(sqlite3.connect(f"file:{target}?mode=ro", uri=True)) as connection:
        try:
            row = connection.execute(
                "SELECT rows_read, rows_kept, report FROM source WHERE source_id = ? AND sha256 = ?",
                (source_id, sha256),
            ).fetchone()
        except sqlite3.DatabaseError:
            return None
    if row is None:
        return None
    counts: dict[str, Any] = json.loads(row[2])
    repaired, notes = counts.pop("repaired"), tuple(counts.pop("notes"))
    return LoadReport(row[0], row[1], counts, repaired, notes, unchanged=True)


def write_source(
    draft: Draft,
    *,
    source_id: str,
    kind: str,
    title: str,
    sha256: str,
    report: LoadReport,
    version: str = "",
    licence: str = "",
    citation: str = "",
    url: str = "",
) -> None:
    """Put the row of a source, replacing an earlier one of the same id."""
    draft.db.table("source").upsert(
        {
            "source_id": source_id,
            "kind": kind,
            "title": title,
            "version": version,
            "licence": licence,
            "citation": citation,
            "url": url,
            "sha256": sha256,
            "rows_read": report.rows_read,
            "rows_kept": report.rows_kept,
            "report": report.as_json(),
        },
        pk="source_id",
    )
