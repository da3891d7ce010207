"""Values of a fit: each aspect with what was found and what to change, the whole, and cover
through the season.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

from service.values.plants import Provenance
from service.values.quantities import Quantity
from service.values.vocabulary import PlantId
from service.values.workings import Coefficient, Missing, read_coefficients

Verdict = Literal["fits", "fits-with-change", "does-not-fit", "unknown"]
VERDICTS: tuple[Verdict, ...] = ("does-not-fit", "unknown", "fits-with-change", "fits")
"""Worst first."""

AspectName = Literal["depth", "flow", "light", "winter", "surface", "soil", "grazing"]
DECIDING: frozenset[AspectName] = frozenset({"depth", "flow", "light", "winter", "surface"})
"""What decides whether a plant can live there; soil, pot and grazing fish only advise."""
Winter = Literal["hardy", "hardy-below-ice", "tender", "unknown"]


@dataclass(frozen=True, slots=True)
class Change:
    """What to alter so that the plant fits.

    Attributes:
        by: how far, where the change is a length or a volume; negative lengths are never used, the
            words say which way.
    """

    text: str
    by: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Aspect:
    """One need of the plant against the planting.

    Attributes:
        found: a sentence on what stands against what.
        known: how the plant's need is known.
    """

    name: AspectName
    verdict: Verdict
    found: str
    known: Provenance
    change: Change | None = None


@dataclass(frozen=True, slots=True)
class Fit:
    """A planting against the plant's needs.

    Attributes:
        verdict: the worst of the aspects that decide.
        winter: how the plant meets the winter of the site.
        autumn: what to do in autumn; empty where the plant stays out and nothing is to be done.
        missing: facts to look up, of the plant or the site.
    """

    plant_id: PlantId
    verdict: Verdict
    summary: str
    aspects: tuple[Aspect, ...]
    winter: Winter
    autumn: str
    missing: tuple[Missing, ...]

    def aspect(self, name: AspectName) -> Aspect:
        """The aspect of this name."""
        return next(aspect for aspect in self.aspects if aspect.name == name)

    @property
    def advice(self) -> tuple[str, ...]:
        """What to do about soil, pot and grazing; it decides nothing."""
        return tuple(
            aspect.change.text
            for aspect in self.aspects
            if aspect.name not in DECIDING and aspect.change is not None
        )


@dataclass(frozen=True, slots=True)
class SharePoint:
    """Share of the water surface covered on a day of the season, counted from planting."""

    day: int
    share: Quantity


@dataclass(frozen=True, slots=True)
class Cover:
    """Spacing and number for cover, and the surface that floaters and floating leaves take.

    Attributes:
        spacing: centre to centre, where plants are set out; None for floaters.
        needed: plants for the area to be covered.
        full: share of the area that the stated number covers when grown, at most all of it.
        season: share of the surface through the season; empty where it does not cover the surface
            or a fact is missing.
        advice: the end of the season against what ponds do well with.
    """

    plant_id: PlantId
    spacing: Quantity | None
    needed: Quantity | None
    full: Quantity | None
    season: tuple[SharePoint, ...]
    advice: str
    known: Provenance
    missing: tuple[Missing, ...]


@cache
def coefficients() -> Mapping[str, Coefficient]:
    """Every constant of fit and cover, by key."""
    return read_coefficients(__package__, "coefficients.toml")
