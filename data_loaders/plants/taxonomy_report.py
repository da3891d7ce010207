"""What loading a taxonomy did, and how it differs from the built-in catalogue."""

from dataclasses import dataclass
from typing import Literal

from data_loaders.report import LoadReport
from service.values.vocabulary import PlantId

SetApart = Literal[
    "no-name",
    "no-taxon-id",
    "taxon-id-twice",
    "rank-not-used",
    "not-a-plant",
    "misapplied-name",
]

SET_APART_MEANINGS: dict[SetApart, str] = {
    "no-name": "the row has no scientific name, or one without a genus",
    "no-taxon-id": "the row has no taxonID",
    "taxon-id-twice": "an earlier row has the same taxonID",
    "rank-not-used": "a rank above the family, or one between those that names on labels have",
    "not-a-plant": "not under the botanical code: an animal, a virus, most bacteria",
    "misapplied-name": "a name that the taxonomy gives as misapplied, so not a name of the taxon",
}

DifferenceKind = Literal["other-plant", "accepted-there", "other-accepted-name"]

DIFFERENCE_MEANINGS: dict[DifferenceKind, str] = {
    "other-plant": (
        "the taxonomy places a name of one plant of the catalogue under another plant of the "
        "catalogue"
    ),
    "accepted-there": (
        "the taxonomy accepts as a taxon of its own what the catalogue takes for a synonym"
    ),
    "other-accepted-name": (
        "the taxonomy has the catalogue's accepted name as a synonym of another name"
    ),
}


@dataclass(frozen=True, slots=True)
class Difference:
    """A name that catalogue and taxonomy place otherwise. The catalogue stands."""

    kind: DifferenceKind
    name: str
    plant_id: PlantId
    accepted_here: str
    accepted_there: str


@dataclass(frozen=True, slots=True)
class TaxonomyReport(LoadReport):
    """What a load did: one file; the totals ``accepted``, ``synonyms`` and ``unplaced`` are names
    stored, by what the taxonomy makes of them, ``lost links`` the synonyms stored as unplaced,
    since their accepted name is not in the table or leads in a circle.

    Attributes:
        differences: names that the built-in catalogue places otherwise.
        replaced: version of the same taxonomy that was there before; None when none was.
    """

    title: str = ""
    version: str = ""
    differences: tuple[Difference, ...] = ()
    replaced: str | None = None

    @property
    def source_id(self) -> str:
        return self.files[0].source_id

    @property
    def accepted(self) -> int:
        return self.totals["accepted"]

    @property
    def synonyms(self) -> int:
        return self.totals["synonyms"]

    @property
    def lost_links(self) -> int:
        return self.totals["lost links"]
