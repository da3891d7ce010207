"""A plant of the store: its name, its place in the taxonomy, its traits, and how each is known.

Ranges are closed and in SI units; an empty tuple or ``None`` is a trait nobody has stated, never a
zero.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.values.nativity import Nativity, StateRecord, nativity
from service.values.vocabulary import (
    Flow,
    FrostKill,
    GrowthForm,
    HowKnown,
    Jurisdiction,
    Light,
    Nativeness,
    PlantId,
    Rank,
    SpreadMode,
    SpreadRate,
)


@dataclass(frozen=True, slots=True)
class Range:
    """A closed range. ``low`` is never above ``high``."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise ValueError(f"range runs backwards: {self.low} > {self.high}")


@dataclass(frozen=True, slots=True)
class Provenance:
    """How a fact is known and where it was read; ``source`` is empty for common practice."""

    how_known: HowKnown
    source: str = ""


COMMON_PRACTICE = Provenance("common-practice")


@dataclass(frozen=True, slots=True)
class Traits:
    """What the plant needs and how it spreads.

    Attributes:
        height_cm: above the water or soil; stem or leaf length for submerged plants.
        depth_cm: water over the crown.
        zone: USDA plant hardiness zones 1 to 13, coldest and warmest. The coldest is where it is
            grown, not a tested limit.
        native_regions: of North America; ``Plant.nativity`` answers for a state.
        wetland_indicator: National Wetland Plant List ratings over all regions, wettest first.
        perennating_organ: what outlives the bad season, in words.
        doubling_days: time for cover or number to double in good conditions.
        hazards: in words; empty is none known, not safe.
    """

    growth_form: GrowthForm | None = None
    height_cm: Range | None = None
    depth_cm: Range | None = None
    flow: tuple[Flow, ...] = ()
    light: tuple[Light, ...] = ()
    zone_min: int | None = None
    zone_max: int | None = None
    native_north_america: Nativeness | None = None
    native_regions: tuple[str, ...] = ()
    wetland_indicator: tuple[str, ...] = ()
    spread_rate: SpreadRate | None = None
    spread_modes: tuple[SpreadMode, ...] = ()
    perennating_organ: str = ""
    doubling_days: Range | None = None
    frost_kill: FrostKill | None = None
    hazards: str = ""
    uses: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Plant:
    """A taxon of the store.

    Attributes:
        parent_id: the next taxon above that the store holds (species of a subspecies, genus of a
            species).
        hybrid_parents: for a hybrid, those parents that the store knows.
        catalogued: False for a taxon that stands only on a list, with a name and no traits.
        provenance: by trait column, where a cell was read; a column not in it is common practice.
        state_records: what a survey says of the plant, by state; a state not in it was not
            surveyed or did not have it.
    """

    plant_id: PlantId
    accepted_name: str
    rank: Rank
    genus: str
    authorship: str = ""
    family: str = ""
    parent_id: PlantId | None = None
    hybrid_parents: tuple[PlantId, ...] = ()
    catalogued: bool = True
    traits: Traits = field(default_factory=Traits)
    provenance: Mapping[str, Provenance] = field(default_factory=dict)
    state_records: Mapping[Jurisdiction, StateRecord] = field(default_factory=dict)

    def known(self, column: str) -> Provenance:
        """How the trait in ``column`` of the reference table is known."""
        return self.provenance.get(column, COMMON_PRACTICE)

    def nativity(self, state: Jurisdiction) -> Nativity:
        """Whether the plant is native to a state, what that rests on, and the source."""
        return nativity(
            state,
            self.state_records,
            self.traits.native_regions,
            self.traits.native_north_america,
        )
