"""What a store notes of a content that records came from."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, replace

from data_loaders.build import Draft
from data_loaders.occurrences.names import ExactMatcher
from data_loaders.occurrences.report import QualityRules
from data_loaders.report import FileReport, Tally, stored_report, write_source


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
