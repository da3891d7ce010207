"""Files of occurrence records into the store, atomically."""

import hashlib
import shutil
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, Protocol

from data_loaders.build import Draft, drafting
from data_loaders.occurrences.datasets import DatasetText
from data_loaders.occurrences.duck import DuckEngine
from data_loaders.occurrences.inputs import Part, Source, find_sources
from data_loaders.occurrences.judged import JudgedPart, read_counts, write_counts
from data_loaders.occurrences.merge import merge
from data_loaders.occurrences.names import ExactMatcher, StoreNames
from data_loaders.occurrences.places import Tiles, known_points, tiles
from data_loaders.occurrences.report import QualityRules
from data_loaders.occurrences.tables import AS_WRITTEN, Reading, RecordTable, inspect
from data_loaders.occurrences.writer import join_blocks, last_block
from data_loaders.progress import Meter, Progress, Stage
from data_loaders.report import (
    EXAMPLES,
    FileReport,
    LoadReport,
    NothingKept,
    Tally,
    stored_report,
    write_source,
)
from service.errors import StoreError
from service.store.database import Build

DEFAULT_RULES = QualityRules()
EngineName = Literal["duckdb", "spark"]

SHARES: dict[Stage, tuple[float, float]] = {
    "checking": (0.0, 0.05),
    "reading": (0.05, 0.5),
    "sorting": (0.5, 0.7),
    "storing": (0.7, 1.0),
}
"""Of the whole work of a file. Measured, roughly."""

_RULES_VERSION = "1"
"""Raised when the rules change: parts judged before and left by a load that was killed are then
judged again.
"""


class Engine(Protocol):
    """Judges one table; the rows that are kept go into a Parquet file."""

    def judge(self, table: RecordTable, target: Path, meter: Meter) -> JudgedPart: ...


def load_occurrences(
    target: Path,
    files: Sequence[Path | str],
    *,
    matcher: ExactMatcher | None = None,
    rules: QualityRules = DEFAULT_RULES,
    reading: Reading = AS_WRITTEN,
    engine: EngineName = "duckdb",
    master: str = "",
    progress: Progress | None = None,
) -> LoadReport:
    """Add the occurrence records of files, folders and globs to the store at ``target``.

    Darwin Core archives, delimited downloads (plain, gzip, zip) and Parquet. What went in before
    under the same rules and names is not read again; a record that is loaded already is counted as
    a duplicate. Parts of a folder that a load judged before it was stopped are not judged again.

    Args:
        matcher: exact scientific name to plant; by default the names of the store itself.
        reading: headings, constants and encoding, where a table does not say them.
        engine: that judges the rows; both keep the same ones.
        master: of Spark, such as ``local[*]`` or ``spark://host:7077``.

    Raises:
        BadFile: a file cannot be used; NothingKept: none of the rows can be. The store is as it
            was.
        StoreMissing, StoreError: as ``drafting``.
    """
    with ExitStack() as stack:
        sources = find_sources(files, stack, reading)
        with closing(Build(target)) as present:
            held = _held(present.connection, sources, rules, matcher)
        if len(held) == len(sources):
            return LoadReport("occurrences", tuple(held.values()))
        with storing(target, matcher, rules, engine=engine, master=master) as work:
            reports = [
                held.get(place) or work.add(source, reading, progress)
                for place, source in enumerate(sources)
            ]
            report = LoadReport("occurrences", tuple(reports))
            if not report.rows_kept:
                raise NothingKept(report)
    return report


def _held(
    connection: sqlite3.Connection,
    sources: Sequence[Source],
    rules: QualityRules,
    matcher: ExactMatcher | None,
) -> dict[int, FileReport]:
    """Reports of sources that went in before, by their places."""
    names = matcher or StoreNames(connection)
    found = {
        place: SourceRow(source.name, source.sha256, rules, names).held(connection)
        for place, source in enumerate(sources)
    }
    return {place: report for place, report in found.items() if report is not None}


@dataclass(slots=True)
class Work:
    """A load of occurrence records under way."""

    draft: Draft
    names: ExactMatcher
    rules: QualityRules
    engine: Engine
    workspace: Path
    kept: int = 0

    def add(self, source: Source, reading: Reading, progress: Progress | None) -> FileReport:
        """Judge a source part by part, and merge it into the draft."""
        row = SourceRow(source.name, source.sha256, self.rules, self.names)
        tally, meter = Tally(), Meter(source.name, progress, SHARES)
        kept: list[Path] = []
        texts: dict[str, DatasetText] = {}
        for part in source.parts:
            is_first = part is source.parts[0]
            table = source.first if is_first else inspect(part.path, reading)
            if len(source.parts) > 1:
                table = replace(table, fallback_dataset=source.name)
            for note in table.notes:
                tally.note(note)
            texts |= table.datasets
            rows, counts = self._judged(part, table, meter)
            kept.append(rows)
            counts.add_to(tally, EXAMPLES)
        merge(self.draft.connection, kept, tally, texts, workspace=self.workspace, meter=meter)
        self.kept += tally.rows_kept
        own = source.first.datasets.get(source.first.fallback_dataset) or DatasetText()
        return row.record(
            self.draft,
            tally,
            title=own.title or f"Occurrence records of {source.name}",
            licence=own.licence or "stated record by record",
            citation=own.citation,
        )

    def _judged(self, part: Part, table: RecordTable, meter: Meter) -> tuple[Path, JudgedPart]:
        """The kept rows and counts of a part; those of an earlier run where they are there."""
        key = hashlib.sha256(
            f"{part.sha256}\n{sorted(table.columns.items(), key=str)}\n"
            f"{sorted(table.defaults.items())}\n{table.dialect}\n{table.fallback_dataset}".encode()
        ).hexdigest()[:24]
        rows = self.workspace / f"{key}.parquet"
        counts = self.workspace / f"{key}.json"
        if not counts.exists():
            unfinished = self.workspace / "unfinished.parquet"
            judged = self.engine.judge(table, unfinished, meter)
            unfinished.replace(rows)
            write_counts(self.workspace / "unfinished.json", judged)
            (self.workspace / "unfinished.json").replace(counts)
        return rows, read_counts(counts)


@contextmanager
def storing(
    target: Path,
    matcher: ExactMatcher | None,
    rules: QualityRules,
    *,
    engine: EngineName = "duckdb",
    master: str = "",
) -> Iterator[Work]:
    """A draft to which records are added, with what was judged for it before a stop.

    Raises:
        StoreMissing, StoreError: as ``drafting``; the counts do not agree.
    """
    with drafting(target, on_top=True, appends=("occurrence_block", "occurrence_digest")) as draft:
        names = matcher or StoreNames(draft.connection)
        before = _Before.of(draft.connection)
        workspace = target.parent / f".{target.name}.judged-{_key(names, rules)}"
        workspace.mkdir(exist_ok=True)
        points = tiles(known_points(draft.connection))
        try:
            with ExitStack() as stack:
                judge = _engine(engine, master, names, rules, points, workspace, stack)
                work = Work(draft, names, rules, judge, workspace)
                yield work
        except BaseException:
            if not any(workspace.glob("*.json")):  # nothing judged to go on from
                shutil.rmtree(workspace, ignore_errors=True)
            raise
        joined = join_blocks(draft.connection)
        expect_records(draft, before, work.kept, joined=joined)
    for left_over in target.parent.glob(f".{target.name}.judged-*"):
        shutil.rmtree(left_over, ignore_errors=True)


def _engine(
    engine: EngineName,
    master: str,
    names: ExactMatcher,
    rules: QualityRules,
    points: Tiles,
    workspace: Path,
    stack: ExitStack,
) -> Engine:
    if engine == "duckdb":
        return DuckEngine(names, rules, points, workspace)
    from data_loaders.occurrences.spark import SparkEngine

    return stack.enter_context(SparkEngine(names, rules, points, workspace, master))


def _key(names: ExactMatcher, rules: QualityRules) -> str:
    """Of what decides how a row is judged, besides the row."""
    words = f"{_RULES_VERSION} {getattr(names, 'fingerprint', 'given')} {rules.max_uncertainty_m!r}"
    return hashlib.sha256(words.encode()).hexdigest()[:12]


@dataclass(frozen=True, slots=True)
class _Before:
    """What the store had before a load: its last block, its last row of digests, its records."""

    block: int
    digest: int
    records: int

    @classmethod
    def of(cls, connection: sqlite3.Connection) -> "_Before":
        digest, records = connection.execute(
            "SELECT coalesce(max(digest_no), 0), coalesce(sum(records), 0) FROM occurrence_digest"
        ).fetchone()
        return cls(last_block(connection), digest, records)


_ADDED = {
    "hold": "SELECT sum(records) FROM occurrence_block WHERE block_no > ?",
    "index": "SELECT sum(box.records) FROM occurrence_block AS block"
    " JOIN occurrence_box AS box USING (cell, block_no) WHERE block_no > ?",
}


def expect_records(draft: Draft, before: _Before, kept: int, *, joined: bool) -> None:
    """Refuse the build unless the blocks that were added, the index over them, and the digests
    agree. What was there before was checked when it was added, and the seal has guarded it since.

    Args:
        joined: all blocks were written anew.
    """

    def check(connection: sqlite3.Connection) -> None:
        first, expected = (0, before.records + kept) if joined else (before.block, kept)
        counts = [(what, query, first, expected) for what, query in _ADDED.items()] + [
            ("know", _DIGESTS, before.digest, kept)
        ]
        for what, query, after, wanted in counts:
            found = connection.execute(query, (after,)).fetchone()[0] or 0
            if found != wanted:
                raise StoreError(
                    f"The blocks of occurrence records {what} {found:,} where {wanted:,} were kept."
                )

    draft.checks.append(check)


_DIGESTS = "SELECT sum(records) FROM occurrence_digest WHERE digest_no > ?"


@dataclass(frozen=True, slots=True)
class SourceRow:
    """The row of the source table for one content under one set of rules."""

    name: str
    sha256: str
    rules: QualityRules
    names: ExactMatcher

    @property
    def source_id(self) -> str:
        return f"occurrences:{self.sha256[:16]}:within-{self.rules.max_uncertainty_m:g}-m"

    @property
    def version(self) -> str:
        """The names by which its plants were found: other names may find more, so the file is
        read again.
        """
        return f"names {getattr(self.names, 'fingerprint', 'given')}"

    def held(self, connection: sqlite3.Connection) -> FileReport | None:
        """The report of the same content under the same rules and names, where it went in
        before.
        """
        query = "SELECT 1 FROM source WHERE source_id = ? AND version = ?"
        if connection.execute(query, (self.source_id, self.version)).fetchone() is None:
            return None
        return stored_report(connection, self.name, self.source_id, self.sha256)

    def record(
        self,
        draft: Draft,
        tally: Tally,
        *,
        title: str,
        licence: str,
        citation: str = "",
        url: str = "",
    ) -> FileReport:
        """Write the source row with the counts, and give the report.

        Of a content that is read again under other names, the records that it brought before stay
        counted as its own.
        """
        report = tally.report(self.name, self.source_id, self.sha256)
        write_source(
            draft,
            self._with_earlier(draft, report),
            kind="occurrences",
            title=title,
            version=self.version,
            licence=licence,
            citation=citation,
            url=url,
        )
        return report

    def _with_earlier(self, draft: Draft, report: FileReport) -> FileReport:
        earlier = stored_report(draft.connection, self.name, self.source_id, self.sha256)
        if earlier is None:
            return report
        again = min(earlier.rows_kept, report.set_apart.get("duplicate", 0))
        rest: Mapping[str, int] = {
            reason: rows - (again if reason == "duplicate" else 0)
            for reason, rows in report.set_apart.items()
        }
        return replace(
            report,
            rows_kept=report.rows_kept + again,
            set_apart={reason: rows for reason, rows in rest.items() if rows},
        )
