"""Which cautions of the caution file stand for a plant, for measures, for a site."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal, Self, get_args

from pydantic import BaseModel, ConfigDict, model_validator

from service.errors import UnknownValue
from service.values.plants import COMMON_PRACTICE, Plant, Provenance
from service.values.site import Place, PlaceKind
from service.values.vocabulary import HowKnown, MeasureKind, SpreadMode
from service.values.workings import read_data

Scope = Literal["plant", "measure", "site", "general"]
Danger = Literal["deep", "moving", "ice", "visited", "flood"]
Work = Literal[MeasureKind, "herbicide", "pump"]
"""The measures of containment, and two kinds of work beside them."""


class Entry(BaseModel):
    """One caution of the file with its conditions."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str
    scope: Scope
    text: str
    how_known: HowKnown
    source: str = ""
    hazards: tuple[str, ...] = ()
    genera: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    modes: tuple[SpreadMode, ...] = ()
    measures: tuple[Work, ...] = ()
    places: tuple[PlaceKind, ...] = ()
    when: Danger | None = None

    @model_validator(mode="after")
    def _one_sourced_line(self) -> Self:
        if "\n" in self.text or not self.text.endswith("."):
            raise ValueError("a caution is one line that ends in a full stop")
        if (self.how_known == "common-practice") == bool(self.source):
            raise ValueError("a source goes with every caution except one of common practice")
        return self


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid")

    caution: tuple[Entry, ...]


@cache
def entries() -> tuple[Entry, ...]:
    """Every caution, in the order of the file."""
    return read_data(__package__, "cautions.toml", _File).caution


_KNEE_CM = 45.0
"""Deep enough to be taken off one's feet (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One line of caution.

    Attributes:
        subject: what it stands beside: the plant's name, the measure, the place's name; empty for
            every report.
    """

    caution_id: str
    scope: Scope
    subject: str
    text: str
    known: Provenance


def cautions_for(
    *, plant: Plant | None = None, measures: Sequence[str] = (), place: Place | None = None
) -> tuple[Caution, ...]:
    """Cautions for a plant, for measures and kinds of work, and for a site, each named once.

    A danger that nobody has ruled out counts as there.

    >>> {caution.subject for caution in cautions_for(measures=["harvest"])}
    {'harvest'}

    Raises:
        UnknownValue: a measure that has no such name.
    """
    for measure in measures:
        if measure not in get_args(Work):
            raise UnknownValue("Measure", measure, get_args(Work), pointer="/measures")
    found: list[Caution] = []
    if plant is not None:
        found += [
            _caution(entry, plant.accepted_name)
            for entry in _of("plant")
            if _applies_to(entry, plant)
        ]
        found += _unmatched_hazards(plant)
    for measure in dict.fromkeys(measures):
        found += [_caution(entry, measure) for entry in _of("measure") if measure in entry.measures]
    if place is not None:
        found += [
            _caution(entry, place.name)
            for entry in _of("site")
            if place.kind in entry.places and _may_be(entry.when, place)
        ]
    return tuple(found)


def general_cautions() -> tuple[Caution, ...]:
    """The short box of every report."""
    return tuple(_caution(entry, "") for entry in _of("general"))


def _of(scope: Scope) -> list[Entry]:
    return [entry for entry in entries() if entry.scope == scope]


def _applies_to(entry: Entry, plant: Plant) -> bool:
    traits = plant.traits
    return (
        _names_hazard(entry, traits.hazards)
        or plant.genus in entry.genera
        or bool(set(entry.uses) & set(traits.uses))
        or bool(set(entry.modes) & set(traits.spread_modes))
    )


def _names_hazard(entry: Entry, hazards: str) -> bool:
    return any(word in hazards.lower() for word in entry.hazards)


def _unmatched_hazards(plant: Plant) -> list[Caution]:
    """A hazard that no line of the file speaks to is handed on in the catalogue's own words."""
    lines: list[Caution] = []
    for hazard in (part.strip() for part in plant.traits.hazards.split(";")):
        if hazard and not any(_names_hazard(entry, hazard) for entry in _of("plant")):
            text = f"Noted for this plant: {hazard}."
            lines.append(
                Caution("noted-hazard", "plant", plant.accepted_name, text, plant.known("hazards"))
            )
    return lines


def _may_be(danger: Danger | None, place: Place) -> bool:
    """Whether the danger is there, or has not been ruled out."""
    ruled_out: dict[Danger, bool] = {
        "deep": place.depth_cm is not None and place.depth_cm < _KNEE_CM,
        "moving": place.flow in ("still", "slow"),
        "ice": place.freezing_depth_cm == 0,
        "visited": place.visited is False,
        "flood": place.flood_prone is False,
    }
    return danger is None or not ruled_out[danger]


def _caution(entry: Entry, subject: str) -> Caution:
    known = (
        COMMON_PRACTICE
        if entry.how_known == "common-practice"
        else Provenance(entry.how_known, entry.source)
    )
    return Caution(entry.id, entry.scope, subject, entry.text, known)
