"""Lists of one's own, and single list files, into a store that is there."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from data_loaders.build import Draft, drafting
from data_loaders.geography.packaged import packaged_counties
from data_loaders.regulations.listfile import ListFile
from data_loaders.regulations.load import TaxonJoiner, add_list
from service.errors import BadFile
from service.store.database import Build
from service.store.law import read_law

Outcome = Literal["added", "new-version", "replaced", "unchanged", "dry-run"]


def put(target: Path, lists: Sequence[tuple[ListFile, str, str]]) -> list[Outcome]:
    """Store lists, all or none; the store stays untouched where nothing differs."""
    outcomes = _outcomes(target, lists)
    if any(outcome != "unchanged" for outcome in outcomes):
        with drafting(target, on_top=True) as draft:
            joiner, counties = TaxonJoiner(draft), packaged_counties()
            for (model, name, sha256), outcome in zip(lists, outcomes, strict=True):
                if outcome == "unchanged":
                    continue
                if outcome == "replaced":
                    _remove(draft, model)
                add_list(draft, model, joiner, counties, file=name, sha256=sha256)
    return outcomes


def _outcomes(target: Path, lists: Sequence[tuple[ListFile, str, str]]) -> list[Outcome]:
    build = Build(target)
    try:
        before = read_law(build.connection).versions
        stored = dict(build.connection.execute("SELECT source_id, sha256 FROM source").fetchall())
        versions = {
            (row["list_id"], row["version"]): row["source_id"]
            for row in build.connection.execute("SELECT * FROM law_list")
        }
    finally:
        build.close()
    outcomes: list[Outcome] = []
    for model, name, sha256 in lists:
        same = [version for version in before if version.list_id == model.list_id]
        for version in same:
            if (version.is_law, version.jurisdiction) != (
                model.kind != "own-rule",
                model.jurisdiction,
            ):
                raise BadFile(
                    name,
                    f"{model.list_id} is already a {version.kind} of {version.jurisdiction}.",
                    place="list_id",
                    next_step="Give this list an id of its own.",
                )
        source = versions.get((model.list_id, _version(model)))
        if source is not None:
            outcomes.append("unchanged" if stored[source] == sha256 else "replaced")
        else:
            outcomes.append("new-version" if same else "added")
    return outcomes


def _version(model: ListFile) -> str:
    return model.effective_from.isoformat() if model.effective_from else ""


def _remove(draft: Draft, model: ListFile) -> None:
    key = (model.list_id, _version(model))
    source = draft.connection.execute(
        "SELECT source_id FROM law_list WHERE list_id = ? AND version = ?", key
    ).fetchone()[0]
    for table in ("law_entry", "law_class", "law_list"):
        draft.db.table(table).delete_where("list_id = ? AND version = ?", list(key))
    draft.db.table("source").delete_where("source_id = ?", [source])
