"""An open taxonomy into the store, beside the built-in catalogue, atomically and in bounded memory.

Rows are read one by one into a staging table on disk, where SQLite joins synonyms to their accepted
names. Names, numbers and links are the publisher's; nothing of the catalogue is changed, and where
the two differ, that is reported.
"""

import re
import sqlite3
import unicodedata
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from data_loaders.build import drafting, file_sha256
from data_loaders.darwin_core import parse_xml
from data_loaders.plants.taxonomy_differences import differences
from data_loaders.plants.taxonomy_report import SetApart, TaxonomyReport
from data_loaders.plants.taxonomy_rows import (
    StagedName,
    is_other_group,
    is_other_kingdom,
    staged,
    states_kingdom,
)
from data_loaders.plants.taxonomy_table import TaxonCells, TaxonTable, open_taxa
from data_loaders.progress import Meter, Progress, Stage
from data_loaders.report import FileReport, write_source
from service.errors import BadFile, StoreError
from service.names import genus_keys

_BATCH_ROWS = 5_000
_CACHE_KIB = 65_536
_MAX_LINKS = 8
"""Synonyms of synonyms are followed so far; what is left then goes in a circle."""

_SHARES: dict[Stage, tuple[float, float]] = {
    "reading": (0.0, 0.7),
    "joining": (0.7, 0.85),
    "storing": (0.85, 0.97),
    "comparing": (0.97, 1.0),
}
"""Of the whole work. Measured, roughly."""

_STAGING = """
CREATE TEMP TABLE staged
  (taxon_id, normal_form, name, authorship, rank, status, accepted_id, parent_id);
"""
_LINEAGE = """
CREATE TEMP TABLE lineage (taxon_id, parent_id, other INTEGER);
"""
_UNDER_OTHERS = """
CREATE INDEX temp.lineage_by_parent ON lineage(parent_id);
CREATE TEMP TABLE others AS
WITH RECURSIVE under(taxon_id) AS (
  SELECT taxon_id FROM lineage WHERE other
  UNION SELECT lineage.taxon_id FROM lineage JOIN under ON lineage.parent_id = under.taxon_id
)
SELECT taxon_id FROM under;
CREATE INDEX temp.others_by_id ON others(taxon_id);
"""
_DROP_OTHERS = """
DELETE FROM staged WHERE taxon_id IN (SELECT taxon_id FROM others)
  OR (status = 'synonym' AND accepted_id IN (SELECT taxon_id FROM others))
"""
_COUNTED = """
CREATE INDEX temp.staged_by_id ON staged(taxon_id);
DELETE FROM staged WHERE rowid IN (
  SELECT s.rowid FROM staged s
  JOIN (SELECT taxon_id, min(rowid) AS first FROM staged GROUP BY taxon_id HAVING count(*) > 1) d
    ON d.taxon_id = s.taxon_id AND s.rowid > d.first
);
"""
_FOLLOW_LINKS = """
UPDATE staged
SET accepted_id = (SELECT t.accepted_id FROM staged t WHERE t.taxon_id = staged.accepted_id)
WHERE status = 'synonym' AND EXISTS (
  SELECT 1 FROM staged t WHERE t.taxon_id = staged.accepted_id AND t.status = 'synonym'
)
"""
_LOSE_LINKS = """
UPDATE staged SET status = 'unplaced', accepted_id = ''
WHERE status = 'synonym' AND NOT EXISTS (
  SELECT 1 FROM staged t WHERE t.taxon_id = staged.accepted_id AND t.status = 'accepted'
)
"""
_NUMBERED = """
CREATE TEMP TABLE numbered
  (name_no INTEGER PRIMARY KEY, staged_row INTEGER NOT NULL, taxon_id TEXT NOT NULL);
INSERT INTO numbered (staged_row, taxon_id)
SELECT rowid, taxon_id FROM staged ORDER BY normal_form, taxon_id;
CREATE INDEX temp.numbered_by_id ON numbered(taxon_id);
"""
_STORE = """
INSERT INTO taxonomy_name
  (name_no, taxonomy_no, taxon_id, normal_form, name, authorship, rank, status, accepted_no,
   parent_taxon_id)
SELECT n.name_no + :base, :taxonomy_no, s.taxon_id, s.normal_form, s.name, s.authorship, s.rank,
       s.status,
       CASE s.status WHEN 'accepted' THEN n.name_no WHEN 'synonym' THEN a.name_no END + :base,
       s.parent_id
FROM numbered n
JOIN staged s ON s.rowid = n.staged_row
LEFT JOIN numbered a ON a.taxon_id = s.accepted_id
ORDER BY n.name_no
"""


def load_taxonomy(
    target: Path,
    file: Path,
    *,
    title: str = "",
    version: str = "",
    licence: str = "",
    columns: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> TaxonomyReport:
    """Add the taxonomy in ``file`` to the store at ``target``. One of the same title takes the
    place of the one before.

    Args:
        file: Darwin Core taxon table (plain, gzip or zip; tab or comma), or a Darwin Core archive.
        title, version, licence: shown with every name; where empty, from the archive's metadata,
            else the file's name.
        columns: term to heading, for a table with headings of its own.

    Raises:
        BadFile: the file cannot be used; the store is as it was.
        StoreMissing, StoreError: as ``data_loaders.build.drafting``.
    """
    with drafting(target, on_top=True) as draft:
        meter = Meter(file.name, progress, _SHARES)
        draft.connection.execute(f"PRAGMA cache_size = -{_CACHE_KIB}")
        draft.connection.execute(f"PRAGMA temp.cache_size = -{_CACHE_KIB}")
        with open_taxa(file, columns) as table:
            about = _about(table, title, version, licence, file)
            rows_read, set_apart = _stage(draft.connection, table, meter)
        meter.stage("joining", rows_read, 0.0)
        lost_links = _join(draft.connection, set_apart)
        counts = dict(
            draft.connection.execute(
                "SELECT status, count(*) FROM staged GROUP BY status"
            ).fetchall()
        )
        if not counts:
            raise BadFile(
                file.name,
                f"none of its {rows_read:,} rows is a name to store.",
                next_step=_reasons(set_apart),
            )
        meter.stage("storing", rows_read, 0.0)
        replaced = _remove(draft.connection, about.source_id)
        taxonomy_no = _store(draft.connection, about.source_id)
        meter.stage("comparing", rows_read, 0.0)
        found = differences(draft.connection, taxonomy_no)
        read = FileReport(
            file.name,
            about.source_id,
            file_sha256(file),
            rows_read,
            sum(counts.values()),
            {str(reason): count for reason, count in set_apart.items()},
            {
                remark: number
                for remark, number in (
                    ("stored as unplaced, accepted name lost", lost_links),
                    ("placed otherwise than in the catalogue", len(found)),
                )
                if number
            },
        )
        report = TaxonomyReport(
            "taxonomy",
            (read,),
            {
                "accepted": counts.get("accepted", 0),
                "synonyms": counts.get("synonym", 0),
                "unplaced": counts.get("unplaced", 0),
                "lost links": lost_links,
            },
            about.title,
            about.version,
            found,
            replaced,
        )
        write_source(
            draft,
            read,
            kind="taxonomy",
            title=about.title,
            version=about.version,
            licence=about.licence,
        )
        draft.expect_count(
            "taxonomy_name", report.rows_kept, where="taxonomy_no = ?", arguments=(taxonomy_no,)
        )
        draft.connection.executescript("DROP TABLE temp.staged; DROP TABLE temp.numbered;")
    meter.stage("comparing", rows_read, 1.0)
    return report


# Reading


def _stage(
    connection: sqlite3.Connection, table: TaxonTable, meter: Meter
) -> tuple[int, Counter[SetApart]]:
    connection.executescript(_STAGING + _LINEAGE)
    set_apart: Counter[SetApart] = Counter()
    rows_read = 0
    all_stated = True
    rows = iter(table)
    while batch := list(islice(rows, _BATCH_ROWS)):
        if not table.has_ids:
            batch = [
                {**cells, "taxonID": f"row-{number}"}
                for number, cells in enumerate(batch, rows_read + 1)
            ]
        rows_read += len(batch)
        lineage = [row for cells in batch if (row := _lineage(cells)) is not None]
        all_stated = all_stated and not any(row[2] == 0 for row in lineage)
        connection.executemany("INSERT INTO lineage VALUES (?, ?, ?)", lineage)
        names = [staged(cells, parent_is_accepted=table.parent_is_accepted) for cells in batch]
        set_apart.update(name for name in names if isinstance(name, str))
        kept = [name for name in names if isinstance(name, StagedName)]
        connection.executemany("INSERT INTO staged VALUES (?, ?, ?, ?, ?, ?, ?, ?)", kept)
        share = min(1.0, table.read_bytes / table.total_bytes) if table.total_bytes else None
        meter.stage("reading", rows_read, share)
    if not all_stated:
        connection.executescript(_UNDER_OTHERS)
        if dropped := connection.execute(_DROP_OTHERS).rowcount:
            set_apart["not-a-plant"] += dropped
        connection.execute("DROP TABLE temp.others")
    connection.execute("DROP TABLE temp.lineage")
    return rows_read, set_apart


def _lineage(cells: TaxonCells) -> tuple[str, str, bool] | None:
    """A row of which the taxa above it decide whether it is a plant, or which decides of those
    below it that they are none.
    """
    other = is_other_kingdom(cells) or is_other_group(cells)
    if states_kingdom(cells) and not other:
        return None
    return cells.get("taxonID", ""), cells.get("parentNameUsageID", ""), other


def _join(connection: sqlite3.Connection, set_apart: Counter[SetApart]) -> int:
    before = _count(connection)
    connection.executescript(_COUNTED)
    if twice := before - _count(connection):
        set_apart["taxon-id-twice"] = twice
    for _ in range(_MAX_LINKS):
        if not connection.execute(_FOLLOW_LINKS).rowcount:
            break
    return connection.execute(_LOSE_LINKS).rowcount


def _count(connection: sqlite3.Connection) -> int:
    return int(connection.execute("SELECT count(*) FROM staged").fetchone()[0])


# Storing


def _remove(connection: sqlite3.Connection, source_id: str) -> str | None:
    """Take out the taxonomy of the same title. Gives its version."""
    row = connection.execute(
        "SELECT kind, version FROM source WHERE source_id = ?", (source_id,)
    ).fetchone()
    if row is None:
        return None
    if row[0] != "taxonomy":
        raise StoreError(
            f"The store has another source called {source_id!r}.",
            next_step="Give the taxonomy another title.",
        )
    numbers = [
        n
        for (n,) in connection.execute(
            "SELECT taxonomy_no FROM taxonomy WHERE source_id = ?", (source_id,)
        )
    ]
    for number in numbers:
        connection.execute("DELETE FROM taxonomy_difference WHERE taxonomy_no = ?", (number,))
        connection.execute("DELETE FROM taxonomy_name WHERE taxonomy_no = ?", (number,))
        connection.execute("DELETE FROM taxonomy WHERE taxonomy_no = ?", (number,))
    connection.execute("DELETE FROM source WHERE source_id = ?", (source_id,))
    return str(row[1])


def _store(connection: sqlite3.Connection, source_id: str) -> int:
    connection.executescript(_NUMBERED)
    taxonomy_no = int(
        connection.execute(
            "INSERT INTO taxonomy (source_id) VALUES (?) RETURNING taxonomy_no", (source_id,)
        ).fetchone()[0]
    )
    base = int(
        connection.execute("SELECT coalesce(max(name_no), 0) FROM taxonomy_name").fetchone()[0]
    )
    connection.execute(_STORE, {"base": base, "taxonomy_no": taxonomy_no})
    connection.execute("DELETE FROM taxonomy_genus_key")
    connection.executemany(
        "INSERT OR IGNORE INTO taxonomy_genus_key VALUES (?, ?)", _genus_keys(connection)
    )
    return taxonomy_no


def _genus_keys(connection: sqlite3.Connection) -> Iterator[tuple[str, str]]:
    genera = connection.execute(
        "SELECT DISTINCT substr(normal_form, 1, instr(normal_form || ' ', ' ') - 1)"
        " FROM taxonomy_name"
    )
    for (genus,) in genera.fetchall():
        for key in sorted(genus_keys(genus)):
            yield key, genus


# What the taxonomy is


@dataclass(frozen=True, slots=True)
class _About:
    source_id: str
    title: str
    version: str
    licence: str


def _about(table: TaxonTable, title: str, version: str, licence: str, file: Path) -> _About:
    stated = _metadata(table)
    title = (
        title
        or stated.get("title", "")
        or re.split(r"\.(?:csv|tsv|txt|tab|zip|gz)\b", file.name)[0]
    )
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")
    if not slug:
        raise BadFile(
            file.name,
            f"the title {title!r} has no letters to name the source by.",
            next_step="Give another title.",
        )
    return _About(
        slug,
        title,
        version or stated.get("pubDate", ""),
        licence or stated.get("intellectualRights", ""),
    )


def _metadata(table: TaxonTable) -> dict[str, str]:
    """Title, date and licence of an EML document; the first of each."""
    if not table.metadata:
        return {}
    found: dict[str, str] = {}
    for element in parse_xml(table.metadata, file=f"{table.file}, metadata").iter():
        name = str(element.tag).rsplit("}", 1)[-1]
        if name in ("title", "pubDate", "intellectualRights") and name not in found:
            found[name] = " ".join(" ".join(element.itertext()).split())
    return found


def _reasons(set_apart: Counter[SetApart]) -> str:
    counts = ", ".join(f"{reason} {count:,}" for reason, count in sorted(set_apart.items()))
    return f"Set apart: {counts}." if set_apart else ""
