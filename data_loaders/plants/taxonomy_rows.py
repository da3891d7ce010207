"""A row of a taxon table -> a name to store, or the reason why not."""

import re
from typing import Final, NamedTuple

from data_loaders.plants.taxonomy_report import SetApart
from data_loaders.plants.taxonomy_table import TaxonCells
from service.names import TaxonStatus, normal_form
from service.values.vocabulary import Rank


class StagedName(NamedTuple):
    """A name as it goes into the staging table.

    ``accepted_id`` is empty for accepted and unplaced names.
    """

    taxon_id: str
    normal_form: str
    name: str
    authorship: str
    rank: Rank
    status: TaxonStatus
    accepted_id: str
    parent_id: str


_RANKS: Final[dict[str, Rank]] = {
    "family": "family",
    "genus": "genus",
    "nothogenus": "genus",
    "species": "species",
    "nothospecies": "hybrid",
    "hybrid": "hybrid",
    "subspecies": "subspecies",
    "nothosubspecies": "subspecies",
    "prole": "subspecies",
    "variety": "variety",
    "varietas": "variety",
    "convariety": "variety",
    "convar": "variety",
    "nothovariety": "variety",
    "nothovarietas": "variety",
    "subvariety": "variety",
    "subvarietas": "variety",
    "form": "form",
    "forma": "form",
    "nothoform": "form",
    "subform": "form",
    "subforma": "form",
    "subsp": "subspecies",
    "ssp": "subspecies",
    "var": "variety",
    "f": "form",
    "infraspecific name": "subspecies",
    "infraspecific_name": "subspecies",
    "cultivar group": "cultivar group",
    "cultivar_group": "cultivar group",
}
"""Spellings of the ranks in the large backbones -> the store's ranks."""

_KINGDOMS: Final = frozenset(
    {"plantae", "viridiplantae", "archaeplastida", "chromista", "protista", "incertae sedis", ""}
)
"""Those under the ICN that hold water plants and algae; the cyanobacteria of ``bacteria`` are
left to the lists.
"""

OTHER_GROUPS: Final = frozenset(
    {
        *("animalia", "metazoa", "fungi", "bacteria", "archaea", "protozoa", "viruses"),
        *("annelida", "arthropoda", "bryozoa", "chordata", "cnidaria", "ctenophora"),
        *("echinodermata", "mollusca", "nematoda", "platyhelminthes", "porifera", "rotifera"),
        *("ascomycota", "basidiomycota"),
        *("actinopterygii", "amphibia", "arachnida", "aves", "bivalvia", "gastropoda", "insecta"),
        *("malacostraca", "mammalia", "reptilia"),
    }
)
"""Kingdoms, phyla and classes without plants, for rows that state no kingdom."""

_MARKS: Final = {"variety": "var.", "varietas": "var.", "var": "var.", "form": "f.", "forma": "f."}

_ACCEPTED: Final = frozenset(
    {
        "accepted",
        "valid",
        "provisionally accepted",
        "provisionally_accepted",
        "doubtful",
        "artificial hybrid",
    }
)
_MISAPPLIED: Final = frozenset({"misapplied", "misapplied name"})
_NO_NAME: Final = re.compile(
    r"[\d?]|\b(?:sp|spp|indet|incertae|unknown|unassigned|undetermined)\b", re.IGNORECASE
)


def staged(cells: TaxonCells, *, parent_is_accepted: bool) -> StagedName | SetApart:
    """Read one row.

    Status and rank are those of the table; where it has none they follow from the name and the
    links.
    """
    taxon_id = cells.get("taxonID", "")
    if not taxon_id:
        return "no-taxon-id"
    authorship = cells.get("scientificNameAuthorship", "")
    name = _without_authorship(cells.get("scientificName", "") or _composed(cells), authorship)
    form = normal_form(name)
    if not form or _NO_NAME.search(form) or not form[0].isalpha():
        return "no-name"
    if is_other_kingdom(cells):
        return "not-a-plant"
    rank = _rank(cells.get("taxonRank", ""), name, form)
    if rank is None:
        return "rank-not-used"
    status_word = cells.get("taxonomicStatus", "").lower().replace("_", " ")
    if status_word in _MISAPPLIED:
        return "misapplied-name"
    accepted_id = cells.get(
        "parentNameUsageID" if parent_is_accepted else "acceptedNameUsageID", ""
    )
    status = _status(status_word, taxon_id, accepted_id, parent_is_accepted)
    return StagedName(
        taxon_id,
        form,
        name,
        authorship,
        rank,
        status,
        accepted_id if status == "synonym" else "",
        "" if parent_is_accepted and status == "synonym" else cells.get("parentNameUsageID", ""),
    )


def is_other_kingdom(cells: TaxonCells) -> bool:
    """Whether a row says that it is not a plant: by kingdom, code, or a group above it."""
    if cells.get("nomenclaturalCode", "").upper() in ("ICZN", "ICNP", "ICTV"):
        return True
    kingdom = cells.get("kingdom", "").lower()
    if kingdom:
        return kingdom not in _KINGDOMS
    above = {cells.get("phylum", "").lower(), cells.get("class", "").lower()}
    return bool(above & OTHER_GROUPS) or cells.get("family", "").lower().endswith("idae")


def states_kingdom(cells: TaxonCells) -> bool:
    """Whether a row says of itself what it is, so that the taxa above it need not be asked."""
    return bool(cells.get("kingdom") or cells.get("nomenclaturalCode"))


def is_other_group(cells: TaxonCells) -> bool:
    """Whether a row is itself a group of which no member is a plant: an animal phylum, say."""
    words = cells.get("scientificName", "").lower().split()
    # Only a family ends so among animals alone: Rosidae is a subclass of plants.
    is_family = cells.get("taxonRank", "").lower() == "family"
    return bool(words) and (words[0] in OTHER_GROUPS or (is_family and words[0].endswith("idae")))


def _composed(cells: TaxonCells) -> str:
    """The name out of genus and epithets in columns of their own."""
    genus, species = cells.get("genus", ""), cells.get("specificEpithet", "")
    if not genus:
        return ""
    if species.split()[:1] == genus.split()[:1]:
        return species  # the column of the species has the whole name
    below = cells.get("infraspecificEpithet", "")
    mark = _MARKS.get(cells.get("taxonRank", "").lower().rstrip("."), "subsp.")
    return " ".join(filter(None, (genus, species, f"{mark} {below}" if species and below else "")))


def _without_authorship(name: str, authorship: str) -> str:
    """Some tables give the authorship both in its own column and at the end of the name."""
    name = " ".join(name.split())
    if authorship and name.endswith(authorship):
        return name[: -len(authorship)].rstrip(" ,")
    return name


def _rank(word: str, name: str, form: str) -> Rank | None:
    if word:
        rank = _RANKS.get(word.lower().rstrip("."))
        return "hybrid" if rank == "species" and ("×" in name or " x " in name) else rank
    words = [word for word in form.split(" ") if not word.endswith(".")]
    if len(words) == 1:
        return "family" if form.endswith("aceae") else "genus"
    return ("hybrid" if "×" in name else "species") if len(words) == 2 else "subspecies"


def _status(word: str, taxon_id: str, accepted_id: str, parent_is_accepted: bool) -> TaxonStatus:
    links_elsewhere = bool(accepted_id) and accepted_id != taxon_id
    if "synonym" in word:
        return "synonym" if links_elsewhere else "unplaced"
    if word in _ACCEPTED:
        return "accepted"
    if links_elsewhere and not parent_is_accepted:
        return "synonym"
    return "accepted" if not word else "unplaced"
