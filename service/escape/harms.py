"""What a plant is known to do where it has escaped: beside the chance, never mixed into it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from pydantic import BaseModel, ConfigDict, Field

from service.values.plants import Plant, Provenance
from service.values.vocabulary import HowKnown
from service.values.workings import read_data


@dataclass(frozen=True, slots=True)
class Harm:
    """One harm, with where it was read; unverified where only a part or a report of it was."""

    plant: str
    text: str
    known: Provenance

    @property
    def verified(self) -> bool:
        """Whether the source itself was read."""
        return self.known.how_known == "read"


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    plant: str = Field(min_length=1)
    text: str = Field(pattern=r"^[A-Z].*\.$")
    how_known: HowKnown
    source: str = Field(min_length=1)


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    harm: tuple[_Entry, ...]


def harms_of(plants: Sequence[Plant]) -> tuple[Harm, ...]:
    """Of any of the plants that a label may mean; none known is not harmless.

    >>> harms_of([])
    ()
    """
    return tuple(harm for plant in plants for harm in harms().get(plant.accepted_name, ()))


@cache
def harms() -> Mapping[str, tuple[Harm, ...]]:
    """All of them, by accepted name."""
    found: dict[str, tuple[Harm, ...]] = {}
    for entry in read_data(__package__, "harms.toml", _File).harm:
        harm = Harm(entry.plant, entry.text, Provenance(entry.how_known, entry.source))
        found[entry.plant] = (*found.get(entry.plant, ()), harm)
    return found
