"""A plant of the store: its name, its place in the taxonomy, its traits, and how each is known.

Ranges are closed and in SI units; an empty tuple or ``None`` is a trait nobody has stated, never a
zero.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.values.nativity import Nativity, StateRecord, native_states, nativity
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
class History:
    """What the plant did outside its native range and outside the United States, and what of it
    travels.

    Counts are of regions whose checklists record it as alien; a count of 0 means that none
    records it, never proof that it stays.

    Attributes:
        like_climate_regions: with a cold, temperate or warm temperate climate, Canada and Mexico
            left out.
        open_regions: how many such regions are open to it; fewer for a plant native to Europe.
        tropical_regions: with a tropical climate.
        invasive_regions: of any climate, where the checklist flags it as invasive.
        pieces_travel: measured: pieces, turions or fronds leave the mother plant freely.
        sterile: of the clones in cultivation: ``no``, ``some clones``, ``mostly``, ``yes``.
    """

    like_climate_regions: int = 0
    open_regions: int = 110
    tropical_regions: int = 0
    invasive_regions: int = 0
    pieces_travel: bool | None = None
    sterile: str | None = None

    def words(self) -> str:
        """What the checklists of other countries say of it.

        >>> History(like_climate_regions=11, invasive_regions=5).words()
        'recorded as alien in 11 regions of a like climate outside North America, invasive in 5'
        """
        regions = self.like_climate_regions
        invasive = f", invasive in {self.invasive_regions}" if self.invasive_regions else ""
        return (
            f"recorded as alien in {regions} region{'' if regions == 1 else 's'} of a like "
            f"climate outside North America{invasive}"
        )


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
        history: None where nobody has looked, as for a plant that is on a list alone.
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
    history: History | None = None


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

    def native_states(self) -> frozenset[Jurisdiction]:
        """The states that it is native to."""
        return native_states(
            self.state_records,
            self.traits.native_regions,
            self.traits.native_north_america,
        )
