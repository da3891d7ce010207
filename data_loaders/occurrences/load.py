"""Files of occurrence records into the store, atomically."""

import shutil
import sqlite3
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from data_loaders.build import Draft, drafting, file_sha256
from data_loaders.occurrences import bulk
from data_loaders.occurrences.names import ExactMatcher, StoreNames
from data_loaders.occurrences.report import QualityRules
from data_loaders.occurrences.scan import Lines
from data_loaders.occurrences.small import store_rows
from data_loaders.occurrences.tables import RecordTable, inspect, read_rows
from data_loaders.occurrences.writer import count_records
from data_loaders.progress import Meter, Progress, Stage
from data_loaders.report import (
    FileReport,
    LoadReport,
    NothingKept,
    Tally,
    held_report,
    write_source,
)
from service.errors import StoreError
from service.store.database import Build

BULK_FROM_BYTES = 64 << 20
"""Tables of this size unpacked and more take the bulk path, where it can read them."""

DEFAULT_RULES = QualityRules()

SHARES: dict[Stage, tuple[float, float]] = {
    "checking": (0.0, 0.05),
    "reading": (0.05, 0.55),
    "sorting": (0.55, 0.65),
    "storing": (0.65, 1.0),
}
"""Of the whole work of a file. Measured, roughly."""


def load_occurrences(
    target: Path,
    files: Sequence[Path],
    *,
    matcher: ExactMatcher | None = None,
    rules: QualityRules = DEFAULT_RULES,
    progress: Progress | None = None,
    bulk_from_bytes: int = BULK_FROM_BYTES,
) -> LoadReport:
    """Add the occurrence records of files to the store at ``target``.

    Darwin Core archives, delimited downloads (plain, gzip, zip) and Parquet. A file whose content
    went in before under the same rules and names is not read again; a record that is held already
    is counted as a duplicate.

    Args:
        matcher: exact scientific name to plant; by default the names of the store itself.
        bulk_from_bytes: unpacked size from which a table takes the bulk path.

    Raises:
        BadFile: a file cannot be used; the store is as it was.
        StoreMissing, StoreError: as ``drafting``.
    """
    inputs = [_take(path, bulk_from_bytes) for path in files]
    with closing(Build(target)) as present:
        known = matcher or StoreNames(present.connection)
        held = [
            SourceRow(one.table.path.name, one.sha256, rules, known).held(present.connection)
            for one in inputs
        ]
    found = tuple(report for report in held if report is not None)
    if len(found) == len(inputs):
        return LoadReport("occurrences", found)
    with drafting(target, on_top=True) as draft:
        names = matcher or StoreNames(draft.connection)
        before = count_records(draft.connection)
        workspace = target.parent / f".{target.name}.loading"
        shutil.rmtree(
            workspace, ignore_errors=True
        )  # of a load that was killed; loads of one store take turns
        reports = [_load_file(draft, one, names, rules, progress, workspace) for one in inputs]
        fresh = [report.rows_kept for report in reports if not report.unchanged]
        expect_records(draft, before + sum(fresh))
        report = LoadReport("occurrences", tuple(reports))
        if not report.rows_kept:
            raise NothingKept(report)
    return report


@dataclass(frozen=True, slots=True)
class _Input:
    table: RecordTable
    sha256: str
    for_bulk: bool
    lines: Lines | None


def _take(path: Path, bulk_from_bytes: int) -> _Input:
    """Hash a file; a large plain one is looked over at the same time."""
    table = inspect(path)
    for_bulk = table.size_bytes >= bulk_from_bytes and bulk.can_read(table)
    with ThreadPoolExecutor(1) as pool:
        hashing = pool.submit(file_sha256, path)
        lines = bulk.look_over(table) if for_bulk and bulk.is_plain(table) else None
        return _Input(table, hashing.result(), for_bulk, lines)


def expect_records(draft: Draft, count: int) -> None:
    """Refuse the build unless its blocks, and the index over them, hold exactly so many records."""

    def check(connection: sqlite3.Connection) -> None:
        indexed = connection.execute(
            "SELECT coalesce(sum(records), 0) FROM occurrence_cell"
        ).fetchone()[0]
        for what, found in (("hold", count_records(connection)), ("index", indexed)):
            if found != count:
                raise StoreError(
                    f"The blocks of occurrence records {what} {found:,} where {count:,} were kept."
                )

    draft.checks.append(check)


def _load_file(
    draft: Draft,
    given: _Input,
    names: ExactMatcher,
    rules: QualityRules,
    progress: Progress | None,
    workspace: Path,
) -> FileReport:
    table = given.table
    source = SourceRow(table.path.name, given.sha256, rules, names)
    held = source.held(draft.connection)
    if held is not None:
        return held
    meter = Meter(table.path.name, progress, SHARES)
    tally = None
    if given.for_bulk:
        with suppress(bulk.NotForBulk):
            tally = bulk.store_table(
                draft.connection,
                table,
                names,
                rules,
                workspace=workspace,
                meter=meter,
                lines=given.lines,
            )
    if tally is None:
        tally = store_rows(
            draft.connection,
            read_rows(table),
            names,
            rules,
            fallback_dataset=table.fallback_dataset,
            datasets=table.datasets,
            progress=lambda rows: meter.rows(rows, None),
        )
    return source.record(
        draft, tally, title=_title(table), licence=_licence(table), citation=_citation(table)
    )


def _title(table: RecordTable) -> str:
    own = table.datasets.get(table.fallback_dataset)
    return (own.title if own else "") or f"Occurrence records of {table.path.name}"


def _licence(table: RecordTable) -> str:
    own = table.datasets.get(table.fallback_dataset)
    return (own.licence if own else "") or "stated record by record"


def _citation(table: RecordTable) -> str:
    own = table.datasets.get(table.fallback_dataset)
    return own.citation if own else ""


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
        return held_report(connection, self.name, self.source_id, self.sha256)

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
        """Write the source row with the counts, and give the report."""
        report = tally.report(self.name, self.source_id, self.sha256)
        write_source(
            draft,
            report,
            kind="occurrences",
            title=title,
            version=self.version,
            licence=licence,
            citation=citation,
            url=url,
        )
        return report
