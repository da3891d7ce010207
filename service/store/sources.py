"""What went into a build."""

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Source:
    """A file or download that went into the build.

    Attributes:
        rows_read, rows_kept: of its records.
        set_apart: counts of the records not kept, by reason.
    """

    source_id: str
    kind: str
    title: str
    version: str
    licence: str
    citation: str
    url: str
    sha256: str
    rows_read: int
    rows_kept: int
    set_apart: Mapping[str, int]


def read_sources(connection: sqlite3.Connection) -> tuple[Source, ...]:
    """Every source, by kind and id."""
    rows = connection.execute("SELECT * FROM source ORDER BY kind, source_id")
    return tuple(
        Source(
            source_id=row["source_id"],
            kind=row["kind"],
            title=row["title"],
            version=row["version"],
            licence=row["licence"],
            citation=row["citation"],
            url=row["url"],
            sha256=row["sha256"],
            rows_read=row["rows_read"],
            rows_kept=row["rows_kept"],
            set_apart=_set_apart(json.loads(row["report"])),
        )
        for row in rows
    )


def _set_apart(report: dict[str, Any]) -> dict[str, int]:
    """Counts by reason; loaders that report more than counts keep them under ``set_apart``."""
    counts = report.get("set_apart", report)
    return {reason: count for reason, count in counts.items() if isinstance(count, int)}
