"""Imported taxonomies of a build, as a source of names.

Nothing is kept in memory but small caches.
"""

import re
import sqlite3
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from threading import Lock

from rapidfuzz import process
from rapidfuzz.distance import OSA

from service.names import (
    SourcedName,
    edits_within,
    epithets_near,
    genus_keys,
    normal_form,
    word_bound,
)
from service.store.database import Build

_CACHED_GENERA = 64
_MAX_GENERA = 8
_MAX_NEAR = 24
_WHOLE_BOUND = 4
"""Edits over all epithets together, before they are looked at word by word."""

_SELECT = """
SELECT n.name, n.authorship, n.rank, n.status, n.taxon_id, n.normal_form,
       coalesce(a.taxon_id, n.taxon_id) AS accepted_id, coalesce(a.name, n.name) AS accepted_name,
       coalesce(a.rank, n.rank) AS accepted_rank,
       coalesce(a.normal_form, n.normal_form) AS accepted_form,
       t.source_id, s.title, s.version
FROM taxonomy_name n
JOIN taxonomy t USING (taxonomy_no)
JOIN source s USING (source_id)
LEFT JOIN taxonomy_name a ON a.name_no = n.accepted_no
"""


_RANK_MARK = re.compile(r"\S+\. ")


@dataclass(frozen=True, slots=True)
class _Epithets:
    """The names of a genus: epithets without rank marks, and the normal forms that they stand
    in, in the same order.
    """

    plain: list[str]
    forms: list[str]


class StoredTaxonomies:
    """All imported taxonomies of a build, as ``service.names.NameSource``.

    Safe to share between threads.
    """

    def __init__(self, build: Build) -> None:
        self._build = build
        self._genera: OrderedDict[str, _Epithets] = OrderedDict()
        self._lock = Lock()

    def exact(self, form: str) -> Sequence[SourcedName]:
        """Names under a normal form, accepted ones first."""
        rows = self._build.connection.execute(
            f"{_SELECT} WHERE n.normal_form = ? ORDER BY n.status, n.name_no", (form,)
        )
        return [_sourced(row) for row in rows]

    def near(self, genus: str, epithets: tuple[str, ...]) -> Sequence[tuple[SourcedName, int]]:
        """Names whose genus is at most one edit or a Latin confusion away, and whose epithets
        are within their bounds.
        """
        wanted = " ".join(epithets)
        forms: list[tuple[int, str]] = []
        for other, genus_edits in self._near_genera(genus):
            genus_epithets = self._epithets_of(other)
            for plain, _, place in process.extract(
                wanted,
                genus_epithets.plain,
                scorer=OSA.distance,
                score_cutoff=_WHOLE_BOUND,
                limit=_MAX_NEAR,
            ):
                distance = epithets_near(epithets, tuple(plain.split(" ")))
                if distance is not None:
                    forms.append((genus_edits + distance, genus_epithets.forms[place]))
        return [
            (name, distance)
            for distance, form in sorted(set(forms))[:_MAX_NEAR]
            for name in self.exact(form)
        ]

    def forms_of(self, name: SourcedName) -> Sequence[str]:
        """Normal forms of the accepted taxon of a name and of all its synonyms."""
        rows = self._build.connection.execute(
            """
            SELECT DISTINCT n.normal_form FROM taxonomy_name a
            JOIN taxonomy t ON t.taxonomy_no = a.taxonomy_no
            JOIN taxonomy_name n ON n.accepted_no = a.name_no
            WHERE a.normal_form = ? AND a.taxon_id = ? AND t.source_id = ? ORDER BY n.name_no
            """,
            (normal_form(name.accepted_name), name.accepted_id, name.source_id),
        )
        return [row[0] for row in rows]

    def otherwise(self, form: str) -> Sequence[str]:
        """Where a taxonomy places a name of the catalogue otherwise: a phrase for each."""
        return self._differences.get(form, ())

    def _near_genera(self, genus: str) -> list[tuple[str, int]]:
        keys = sorted(genus_keys(genus))
        marks = ",".join("?" * len(keys))
        rows = self._build.connection.execute(
            f"SELECT DISTINCT genus FROM taxonomy_genus_key WHERE key IN ({marks})", keys
        )
        bound = word_bound(len(genus))
        near = [(row[0], edits_within(genus, row[0], bound)) for row in rows]
        return sorted(
            ((other, min(distance, bound)) for other, distance in near), key=lambda p: (p[1], p[0])
        )[:_MAX_GENERA]

    def _epithets_of(self, genus: str) -> _Epithets:
        with self._lock:
            cached = self._genera.get(genus)
            if cached is not None:
                self._genera.move_to_end(genus)
                return cached
        rows = self._build.connection.execute(
            "SELECT DISTINCT normal_form FROM taxonomy_name"
            " WHERE normal_form > ? AND normal_form < ?",
            (f"{genus} ", f"{genus}!"),
        )
        forms = [form for (form,) in rows if "×" not in form]
        epithets = _Epithets([_RANK_MARK.sub("", form[len(genus) + 1 :]) for form in forms], forms)
        with self._lock:
            self._genera[genus] = epithets
            while len(self._genera) > _CACHED_GENERA:
                self._genera.popitem(last=False)
        return epithets

    @cached_property
    def _differences(self) -> Mapping[str, tuple[str, ...]]:
        found: dict[str, list[str]] = {}
        rows = self._build.connection.execute(
            """
            SELECT d.normal_form, d.name, d.kind, d.accepted_there, s.title, s.version
            FROM taxonomy_difference d
            JOIN taxonomy t USING (taxonomy_no) JOIN source s USING (source_id)
            ORDER BY d.taxonomy_no, d.normal_form, d.accepted_there
            """
        )
        for row in rows:
            found.setdefault(row["normal_form"], []).append(
                f"{_titled(row)} {_SAYS[row['kind']]} {row['accepted_there']}"
            )
        return {form: tuple(phrases) for form, phrases in found.items()}


_SAYS = {
    "other-plant": "places it under",
    "accepted-there": "keeps it apart as",
    "other-accepted-name": "names the taxon",
}


def read_taxonomies(build: Build) -> tuple[StoredTaxonomies, ...]:
    """The imported taxonomies of a build, for ``service.names.Resolver``; none when none was
    loaded.
    """
    count = build.connection.execute("SELECT count(*) FROM taxonomy").fetchone()[0]
    return (StoredTaxonomies(build),) if count else ()


def _sourced(row: sqlite3.Row) -> SourcedName:
    return SourcedName(
        name=row["name"],
        authorship=row["authorship"],
        rank=row["rank"],
        status=row["status"],
        taxon_id=row["taxon_id"],
        accepted_id=row["accepted_id"],
        accepted_name=row["accepted_name"],
        accepted_rank=row["accepted_rank"],
        genus=row["accepted_form"].split(" ", 1)[0],
        source_id=row["source_id"],
        source=_titled(row),
    )


def _titled(row: sqlite3.Row) -> str:
    return f"{row['title']} {row['version']}".strip()
