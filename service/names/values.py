"""What goes in and what comes out: the parsed label, the name records, the resolution."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

from service.values.vocabulary import Match, PlantId, Rank

NameKind = Literal["accepted", "synonym", "common", "trade", "cultivar", "misspelling"]

NameSense = Literal["strict", "open", "genus", "misapplied"]
"""What a stored name says by itself: the taxon (``strict``); the taxon, but ask (``open``); a genus
used as a plant's name (``genus``); the taxon only by mistake (``misapplied``).
"""

PartKind = Literal[
    "genus",
    "species",
    "rank",
    "infraspecific",
    "hybrid-sign",
    "graft-sign",
    "cultivar",
    "group",
    "trade-designation",
    "author",
    "qualifier",
    "open",
    "common",
    "connector",
    "size",
    "count",
    "sku",
    "price",
    "colour",
    "sales",
    "rest",
]
"""``open`` is ``sp.``, ``spp.`` and the like; ``count`` holds pack codes too; ``rest`` is what
nobody could name.
"""

HybridForm = Literal["nothotaxon", "formula", "graft"]
"""``nothotaxon`` has a name of its own (ICN Art. H.3), ``formula`` states the parents (ICN Art.
H.2), ``graft`` is a graft-chimaera (ICNCP Art. 24).
"""

Relation = Literal["one", "same", "formula", "graft", "several"]
"""How the names on a label stand to each other: a single name, names of the same plant, the parents
of a hybrid, the components of a graft-chimaera, or several plants on one line.
"""


@dataclass(frozen=True, slots=True)
class NameRecord:
    """A name that the store holds for a plant, scientific or vernacular.

    Attributes:
        also: genera and names that the name may mean as well.
        note: for people; decides nothing.
    """

    name: str
    kind: NameKind
    plant_id: PlantId
    note: str = ""
    source_id: str = ""
    sense: NameSense = "strict"
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of the label: what stands there from ``start`` up to ``end``, its encoding mended."""

    kind: PartKind
    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class ScientificName:
    """A scientific name as a label states it.

    Attributes:
        genus: with a capital, without its full stop when abbreviated.
        abbreviated: ``M. aquaticum``.
        infraspecific: pairs of rank mark (``subsp.``, ``var.``, ``f.``; empty when the label has
            none) and epithet.
        notho: the rank that the hybrid sign or ``notho-`` stands at.
        qualifier: ``cf.``, ``aff.``, ``s.l.``, ``sensu ...``, ``auct.``, ``?``: as the label spells
            it.
        open_nomenclature: ``sp.`` or ``spp.``: the species is not stated.
    """

    genus: str
    species: str = ""
    infraspecific: tuple[tuple[str, str], ...] = ()
    authorship: str = ""
    abbreviated: bool = False
    notho: Literal["", "genus", "species", "infraspecific"] = ""
    qualifier: str = ""
    open_nomenclature: bool = False
    cultivar: str = ""

    @property
    def canonical(self) -> str:
        """Genus, epithets and rank marks, without hybrid sign and authorship."""
        return " ".join(self._words())

    @property
    def epithets(self) -> tuple[str, ...]:
        """The species epithet and those below it."""
        return (
            (self.species, *(epithet for _, epithet in self.infraspecific)) if self.species else ()
        )

    def _words(self) -> Iterator[str]:
        yield f"{self.genus}." if self.abbreviated else self.genus
        if self.species:
            yield self.species
        for mark, epithet in self.infraspecific:
            if mark:
                yield mark
            yield epithet


@dataclass(frozen=True, slots=True)
class ParsedLabel:
    """A label taken apart. Every letter and digit of ``text`` is in exactly one of ``parts``.

    Attributes:
        label: as given.
        text: the label with broken encoding mended (``repaired`` says whether anything was); spans
            refer to it.
        names: the scientific names, in the order of the label.
        common: the vernacular names, in the order of the label.
        relation: how the names stand to each other.
        segments: the pieces of a line that holds several plants, each a label of its own; empty
            otherwise.
    """

    label: str
    text: str
    parts: tuple[Part, ...]
    names: tuple[ScientificName, ...] = ()
    common: tuple[str, ...] = ()
    cultivar: str | None = None
    group: str | None = None
    trade_designation: str | None = None
    relation: Relation = "one"
    segments: tuple[str, ...] = ()
    repaired: bool = False

    @property
    def genus(self) -> str:
        """Genus of the first scientific name, or empty."""
        return self.names[0].genus if self.names else ""

    @property
    def species(self) -> str:
        """Species epithet of the first scientific name, or empty."""
        return self.names[0].species if self.names else ""

    @property
    def authorship(self) -> str:
        """Authorship of the first scientific name, or empty."""
        return self.names[0].authorship if self.names else ""

    @property
    def several(self) -> bool:
        """Whether the line names several plants."""
        return self.relation == "several"

    def texts(self, kind: PartKind) -> tuple[str, ...]:
        """The texts of all parts of a kind."""
        return tuple(part.text for part in self.parts if part.kind == kind)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A taxon that the label may mean.

    Attributes:
        through: the stored name that it was reached through.
        rule: which rule reached it, in words.
        score: 1.0 for an exact name, less for a spelling match.
        genus: current genus, so that an entry for a whole genus can be matched.
        source: title and version of the taxonomy that knows it; empty for the built-in catalogue.
    """

    plant_id: PlantId
    accepted_name: str
    rank: Rank
    through: str
    rule: str
    score: float
    note: str = ""
    genus: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class WetlandName:
    """A name of a wetland plant that the catalogue does not hold, as survey tables have it.

    Attributes:
        wetland_indicator: National Wetland Plant List ratings over all regions, wettest first.
        native_states: in how many states a survey met it as native; None is not stated.
    """

    name: str
    rank: Rank
    wetland_indicator: tuple[str, ...] = ()
    native_states: int | None = None


@dataclass(frozen=True, slots=True)
class OutsideName:
    """A well-formed name of a plant that the catalogue does not hold.

    Attributes:
        genus_held: the catalogue or a list has its genus.
        known: what survey tables say of it; None where they do not have it.
    """

    name: str
    rank: Rank
    genus: str
    genus_held: bool
    known: WetlandName | None = None

    @property
    def wetland_indicator(self) -> tuple[str, ...]:
        """National Wetland Plant List ratings, wettest first; empty where no table has it."""
        return self.known.wetland_indicator if self.known else ()

    @property
    def native_states(self) -> int | None:
        """In how many states a survey met it as native; None is not stated."""
        return self.known.native_states if self.known else None


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that was tried, on what, and how many taxa it found."""

    rule: str
    tried: str
    found: int


@dataclass(frozen=True, slots=True)
class Parent:
    """A parent of a hybrid or a component of a graft-chimaera, with the taxa that it may be."""

    name: str
    plant_ids: tuple[PlantId, ...] = ()


@dataclass(frozen=True, slots=True)
class Hybrid:
    """The label states a hybrid or a graft-chimaera, or the taxon is one."""

    form: HybridForm
    parents: tuple[Parent, ...] = ()


@dataclass(frozen=True, slots=True)
class Resolution:
    """What a label means, and how sure that is.

    Attributes:
        confirmed: a single taxon, by an exact name, and nothing on the label or in the catalogue
            casts doubt on it. For a cultivar it is the species that is confirmed.
        candidates: best first.
        cultivar_known: whether the store holds the cultivar; None without one on the label.
        outside: the name, where the label states a plant that the catalogue does not hold; the
            candidates are then its genus, never another species.
        goods: the word that says that the label names goods and no plant; empty for a plant.
        steps: what was tried, in order.
        to_confirm: what a person would have to check to confirm the name; empty when it is
            confirmed.
    """

    label: str
    match: Match
    confirmed: bool
    candidates: tuple[Candidate, ...]
    parsed: ParsedLabel
    cultivar: str | None = None
    cultivar_known: bool | None = None
    genus_only: bool = False
    hybrid: Hybrid | None = None
    outside: OutsideName | None = None
    goods: str = ""
    steps: tuple[Step, ...] = field(default=())
    to_confirm: str = ""


TaxonStatus = Literal["accepted", "synonym", "unplaced"]


@dataclass(frozen=True, slots=True)
class SourcedName:
    """A name of an imported taxonomy with the taxon that it names there.

    Attributes:
        taxon_id, accepted_id: as the taxonomy numbers them; the same for an accepted and for an
            unplaced name.
        genus: of the accepted name, folded.
        source: title and version of the taxonomy.
    """

    name: str
    authorship: str
    rank: Rank
    status: TaxonStatus
    taxon_id: str
    accepted_id: str
    accepted_name: str
    accepted_rank: Rank
    genus: str
    source_id: str
    source: str


class NameSource(Protocol):
    """Look-ups in one or more imported taxonomies.

    Forms are those of ``normal_form``, words are folded.
    """

    def exact(self, form: str) -> Sequence[SourcedName]:
        """Names under a normal form; several for homonyms and for several taxonomies."""

    def near(self, genus: str, epithets: tuple[str, ...]) -> Sequence[tuple[SourcedName, int]]:
        """Names within the spelling bounds of genus and epithets, with their edits."""

    def forms_of(self, name: SourcedName) -> Sequence[str]:
        """Normal forms of the accepted taxon of a name and of all its synonyms."""

    def otherwise(self, form: str) -> Sequence[str]:
        """Where a taxonomy places a name of the catalogue otherwise than the catalogue: a phrase
        for each.
        """
