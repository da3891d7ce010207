"""List files into the store: taxa joined to plants, counties to their codes."""

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from importlib.resources import files
from pathlib import Path

from data_loaders.build import Draft, file_sha256
from data_loaders.plants.catalogue import add_taxon
from data_loaders.plants.taxa import genus_of, rank_of, species_above, tidy
from data_loaders.regulations.listfile import (
    ClassModel,
    EntryModel,
    ListFile,
    TermModel,
    read_list_file,
)
from service.errors import BadFile, UnknownValue
from service.geography.counties import CountyTable
from service.values.vocabulary import Jurisdiction, PlantId, Rank

FOLDER = Path(str(files("data_loaders.reference").joinpath("regulations")))


def reference_lists() -> tuple[Path, ...]:
    """The list files of the package, in the order of their names."""
    return tuple(sorted(FOLDER.glob("*.toml")))


class TaxonJoiner:
    """Joins the accepted names of lists to plants of the draft, adding a taxon where none is there.

    An accepted name comes before a synonym; a synonym counts only where it is strict and names one
    plant.
    """

    def __init__(self, draft: Draft) -> None:
        self._draft = draft
        plants = list(draft.db.table("plant").rows)
        self._accepted = {tidy(row["accepted_name"]): PlantId(row["plant_id"]) for row in plants}
        self._families: dict[str, str] = {
            row["genus"]: row["family"] for row in plants if row["rank"] == "genus"
        }
        self._synonyms = _strict_synonyms(draft)

    def join(self, accepted_name: str, listed_rank: Rank) -> PlantId:
        """The plant for an accepted name of a list."""
        name = tidy(accepted_name)
        found = self._accepted.get(name) or self._synonyms.get(name)
        return found or self._add(name, listed_rank)

    def _add(self, name: str, listed_rank: Rank) -> PlantId:
        rank = rank_of(name, listed_rank)
        genus = genus_of(name)
        family = self._families.get(genus, "")
        parent = None if rank in ("genus", "family") else self._above(name, genus)
        plant_id = add_taxon(self._draft, name, rank, genus=genus, family=family, parent=parent)
        self._accepted[name] = plant_id
        return plant_id

    def _above(self, name: str, genus: str) -> PlantId:
        species = species_above(name)
        if species is not None:
            return self.join(species, "species")
        return self.join(genus, "genus")


def _strict_synonyms(draft: Draft) -> dict[str, PlantId]:
    """Synonyms that mean one plant and are not noted as misapplied."""
    plants: dict[str, set[PlantId]] = defaultdict(set)
    for row in draft.db.table("name").rows_where("kind = 'synonym'"):
        if row["sense"] != "misapplied":
            plants[tidy(row["name"])].add(PlantId(row["plant_id"]))
    return {name: next(iter(found)) for name, found in plants.items() if len(found) == 1}


def add_lists(draft: Draft, paths: Iterable[Path], counties: CountyTable) -> list[ListFile]:
    """Put list files into the draft.

    Raises:
        BadFile: names file, entry and field.
    """
    joiner = TaxonJoiner(draft)
    loaded = []
    for path in paths:
        model = read_list_file(path)
        add_list(draft, model, joiner, counties, file=path.name, sha256=file_sha256(path))
        loaded.append(model)
    return loaded


def add_list(
    draft: Draft,
    model: ListFile,
    joiner: TaxonJoiner,
    counties: CountyTable,
    *,
    file: str,
    sha256: str,
) -> None:
    """Put one list into the draft."""
    version = model.effective_from.isoformat() if model.effective_from else ""
    key = {"list_id": model.list_id, "version": version}
    source_id = f"{model.list_id}@{version}" if version else model.list_id
    draft.db.table("source").insert(
        {
            "source_id": source_id,
            "kind": "own-rule" if model.kind == "own-rule" else "law",
            "title": model.title,
            "version": version,
            "citation": model.citation,
            "url": model.url,
            "sha256": sha256,
            "rows_read": len(model.entries),
            "rows_kept": len(model.entries),
        }
    )
    header = model.model_dump(mode="json", exclude={"classes", "entries", "read_sha256"})
    draft.db.table("law_list").insert({**header, **key, "source_id": source_id})
    for position, rule in enumerate(model.classes):
        terms = _terms(rule.terms, model, joiner, counties, file, f"classes[{position}]")
        draft.db.table("law_class").insert(
            {**key, "position": position, **_class(rule), "terms": terms}
        )
    for position, entry in enumerate(model.entries):
        place = f"entries[{position}] ({entry.name_as_listed or entry.accepted_name})"
        terms = _terms(entry.all_terms, model, joiner, counties, file, place)
        plant_id = joiner.join(entry.accepted_name, entry.rank)
        draft.db.table("law_entry").insert(
            {**key, "position": position, **_entry(entry), "plant_id": plant_id, "terms": terms}
        )
    draft.expect_count(
        "law_entry",
        len(model.entries),
        where="list_id = ? AND version = ?",
        arguments=(model.list_id, version),
    )


def _class(rule: ClassModel) -> dict[str, object]:
    return {
        **rule.model_dump(mode="json", exclude={"terms", "acts", "permit_for"}),
        "acts": json.dumps(rule.acts),
        "permit_for": json.dumps(rule.permit_for),
    }


def _entry(entry: EntryModel) -> dict[str, object]:
    plain = entry.model_dump(mode="json", exclude={"terms", "scope"})
    return {**plain, "scope": json.dumps(entry.scope), "accepted_name": tidy(entry.accepted_name)}


def _terms(
    terms: Sequence[TermModel],
    model: ListFile,
    joiner: TaxonJoiner,
    counties: CountyTable,
    file: str,
    place: str,
) -> str:
    def fips(name: str) -> str:
        try:
            return counties.find(Jurisdiction(model.jurisdiction), name).fips
        except UnknownValue as error:
            raise BadFile(file, error.detail, place=place, next_step=error.next_step) from error

    return json.dumps(
        [
            {
                **term.model_dump(mode="json", exclude={"taxa", "counties"}),
                "taxa": [joiner.join(taxon, "species") for taxon in term.taxa],
                "counties": [fips(name) for name in term.counties],
            }
            for term in terms
        ],
        ensure_ascii=False,
    )
