"""Files of occurrence records into the store, atomically."""

import hashlib
import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import Literal, Protocol

from data_loaders.build import Draft, drafting, file_sha256, present_build
from data_loaders.occurrences.added import Before, expect_records
from data_loaders.occurrences.addresses import bring
from data_loaders.occurrences.datasets import DatasetText
from data_loaders.occurrences.duck import DuckEngine
from data_loaders.occurrences.inputs import (
    Part,
    RemotePart,
    Source,
    find_sources,
    joined_sha256,
)
from data_loaders.occurrences.judged import (
    Batch,
    JudgedPart,
    read_batches,
    read_counts,
    write_batches,
    write_counts,
)
from data_loaders.occurrences.merge import merge
from data_loaders.occurrences.names import ExactMatcher, StoreNames
from data_loaders.occurrences.places import Tiles, known_points, tiles
from data_loaders.occurrences.report import QualityRules
from data_loaders.occurrences.source_row import SourceRow
from data_loaders.occurrences.tables import AS_WRITTEN, Reading, RecordTable, inspect
from data_loaders.occurrences.writer import join_blocks
from data_loaders.progress import Meter, Progress, Stage
from data_loaders.report import (
    EXAMPLES,
    FileReport,
    LoadReport,
    NothingKept,
    Tally,
)
from service.errors import BadFile

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


class Engine(Protocol):
    """Judges one table; the rows that are kept go into a Parquet file.

    Attributes:
        batch_bytes: of parts that are judged together.
    """

    @property
    def batch_bytes(self) -> int: ...

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
        batches = [
            batch
            for parts in _batches(source.parts, self.engine.batch_bytes)
            for batch in self._batches_of(source, parts, reading, meter)
        ]
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

    def _batches_of(
        self,
        source: Source,
        parts: Sequence[Part | RemotePart],
        reading: Reading,
        meter: Meter,
    ) -> list[Batch]:
        """Judge parts; those at an address that an earlier run judged are not fetched again."""
        note = self._note(parts, reading)
        if note is not None and note.exists():
            return read_batches(note)
        with ExitStack() as stack:
            here = [stack.enter_context(self._here(part, meter)) for part in parts]
            tables: list[tuple[Part, RecordTable]] = []
            try:
                for part in here:
                    tables.append((part, inspect(part.path, reading)))
            except BadFile:
                for one in tables:  # that one part cannot be read does not lose the others
                    self._judged(source, [one], meter)
                raise
            batches = [
                batch
                for _, some in groupby(tables, key=lambda pair: _shape(*pair))
                for batch in self._judged(source, list(some), meter)
            ]
        if note is not None:
            write_batches(note, batches)
        return batches

    def _note(self, parts: Sequence[Part | RemotePart], reading: Reading) -> Path | None:
        """Where it is noted what became of parts that are not kept here; None where it cannot be
        told whether they are the same another time.
        """
        listed = [part.listed for part in parts if isinstance(part, RemotePart)]
        if not listed or not all(one.tag for one in listed):
            return None
        words = "\n".join([repr(reading), *(one.digest for one in listed)])
        return self.workspace / f"{hashlib.sha256(words.encode()).hexdigest()[:24]}.parts"

    @contextmanager
    def _here(self, part: Part | RemotePart, meter: Meter) -> Iterator[Part]:
        """A part as a file; what was fetched goes once it is judged, or is of no use."""
        if isinstance(part, Part):
            yield part
            return
        path = bring(part.place, part.listed, self.workspace / "fetched", meter)
        try:
            yield Part(path, file_sha256(path))
        except Exception as error:
            if isinstance(error, BadFile):
                shutil.rmtree(path.parent)
            raise
        shutil.rmtree(path.parent)

    def _judged(
        self, source: Source, some: Sequence[tuple[Part, RecordTable]], meter: Meter
    ) -> list[Batch]:
        """Tables of one shape together; where one of them is damaged, each by itself, so that it is
        named and the others are not judged again.
        """
        first = some[0][1]
        table = replace(first, more=tuple(part.path for part, _ in some[1:]))
        if len(source.parts) > 1:
            table = replace(table, fallback_dataset=source.name)
        sha256s = tuple(part.sha256 for part, _ in some)
        key = _key_of(sha256s, table)
        alone = [_key_of((part.sha256,), table) for part, _ in some]
        by_itself = len(some) > 1 and any(map(self._is_judged, alone))
        try:
            if not by_itself and not self._is_judged(key):
                self._judge(key, table, meter)
        except BadFile:
            if len(some) == 1:
                raise
            by_itself = True
        if by_itself:
            return [batch for one in some for batch in self._judged(source, [one], meter)]
        own = first.datasets.get(first.fallback_dataset) or DatasetText()
        return [Batch(key, sha256s, first.notes, first.datasets, own)]

    def _is_judged(self, key: str) -> bool:
        return (self.workspace / f"{key}.json").exists()

    def _judge(self, key: str, table: RecordTable, meter: Meter) -> None:
        """Leave the kept rows of a table, and then its counts, under their key."""
        unfinished = self.workspace / "unfinished.parquet"
        judged = self.engine.judge(table, unfinished, meter)
        unfinished.replace(self.workspace / f"{key}.parquet")
        write_counts(self.workspace / "unfinished.json", judged)
        (self.workspace / "unfinished.json").replace(self.workspace / f"{key}.json")


def _key_of(sha256s: Sequence[str], table: RecordTable) -> str:
    """Of parts that are judged together, and how they are read."""
    return hashlib.sha256(
        f"{joined_sha256(sha256s)}\n{sorted(table.columns.items(), key=str)}\n"
        f"{sorted(table.defaults.items())}\n{table.dialect}\n{table.fallback_dataset}".encode()
    ).hexdigest()[:24]


def _batches(
    parts: Sequence[Part | RemotePart], most_bytes: int
) -> Iterator[list[Part | RemotePart]]:
    """Parts one after the other, as many together as are not too large."""
    batch: list[Part | RemotePart] = []
    size = 0
    for part in parts:
        if batch and size + part.size > most_bytes:
            yield batch
            batch, size = [], 0
        batch.append(part)
        size += part.size
    if batch:
        yield batch


def _shape(part: Part, table: RecordTable) -> tuple[object, ...]:
    """What is equal of tables that are judged together: Parquet of the same columns."""
    if table.kind != "parquet":
        return (part.path,)
    return tuple(
        sorted((str(key), str(value)) for key, value in some.items())
        for some in (table.columns, table.kinds, table.defaults)
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
