"""Names beyond the built-in catalogue: what an imported taxonomy must answer."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from service.values.vocabulary import Rank

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
