"""Files of occurrence records into the store, atomically."""

import hashlib
import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from data_loaders.build import Draft, drafting, present_build
from data_loaders.occurrences.added import Before, expect_records
from data_loaders.occurrences.datasets import DatasetText
from data_loaders.occurrences.duck import DuckEngine
from data_loaders.occurrences.inputs import Source, find_sources, joined_sha256
from data_loaders.occurrences.judged import read_counts
from data_loaders.occurrences.judging import Engine, Judging
from data_loaders.occurrences.merge import merge
from data_loaders.occurrences.names import ExactMatcher, StoreNames
from data_loaders.occurrences.places import Tiles, known_points, tiles
from data_loaders.occurrences.report import QualityRules
from data_loaders.occurrences.source_row import SourceRow
from data_loaders.occurrences.tables import AS_WRITTEN, Reading
from data_loaders.occurrences.writer import join_blocks
from data_loaders.progress import Meter, Progress, Stage
from data_loaders.report import (
    EXAMPLES,
    FileReport,
    LoadReport,
    NothingKept,
    Tally,
)

DEFAULT_RULES = QualityRules()
EngineName = Literal["duckdb", "spark"]

SHARES: dict[Stage, tuple[float, float]] = {
    "fetching": (0.0, 0.0),
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
    """Add the occurrence records of files, folders, globs and addresses to the store at
    ``target``.

    Darwin Core archives, delimited downloads (plain, gzip, zip) and Parquet. What went in before
    under the same rules and names is not read again; a record that is loaded already is counted as
    a duplicate. Parts that a load judged before it was stopped are not judged again, nor fetched
    again where they lie at an address (``https://``, ``s3://``).

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
        with closing(present_build(target)) as present:
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
        if source.sha256
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
        """Judge a source batch by batch, and merge it into the draft."""
        tally, meter = Tally(), Meter(source.name, progress, SHARES)
        batches = Judging(self.engine, self.workspace).batches(source, reading, meter)
        sha256 = joined_sha256([digest for batch in batches for digest in batch.sha256s])
        row = SourceRow(source.name, sha256, self.rules, self.names)
        if not source.sha256:
            held = row.held(self.draft.connection)
            if held is not None:
                return held
        texts: dict[str, DatasetText] = {}
        kept: list[Path] = []
        for batch in batches:
            for note in (*source.notes, *batch.notes):
                tally.note(note)
            texts |= batch.texts
            kept.append(self.workspace / f"{batch.key}.parquet")
            read_counts(self.workspace / f"{batch.key}.json").add_to(tally, EXAMPLES)
        merge(self.draft.connection, kept, tally, texts, workspace=self.workspace, meter=meter)
        self.kept += tally.rows_kept
        own = batches[0].own
        return row.record(
            self.draft,
            tally,
            title=own.title or f"Occurrence records of {source.name}",
            licence=own.licence or "stated record by record",
            citation=own.citation,
        )


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
        before = Before.of(draft.connection)
        workspace = target.parent / f".{target.name}.judged-{_key(names, rules)}"
        workspace.mkdir(exist_ok=True)
        points = tiles(known_points(draft.connection))
        try:
            with ExitStack() as stack:
                judge = _engine(engine, master, names, rules, points, workspace, stack)
                work = Work(draft, names, rules, judge, workspace)
                yield work
        except BaseException:
            left = (*workspace.glob("*.json"), *(workspace / "fetched").rglob("*.*"))
            if not left:  # nothing to go on from
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
