"""One plant in one place, as the measure modules read it, and the gathering of facts that are
missing.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from service.containment.values import (
    Check,
    ContainmentRequest,
    Figure,
    Held,
    Measure,
    Section,
    Strength,
)
from service.values.plants import COMMON_PRACTICE, Plant, Provenance
from service.values.quantities import Quantity, Unit
from service.values.site import Climate, Place, Position
from service.values.vocabulary import MeasureKind
from service.values.workings import Given, Missing, known_range

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Case:
    """What every measure reads.

    ``held`` is what the measure can hold at best, by the measures file.
    """

    plant: Plant
    place: Place
    position: Position
    climate: Climate
    request: ContainmentRequest
    kind: MeasureKind
    title: str
    held: tuple[Held, ...]
    limits: tuple[str, ...]

    def trait_range(self, column: str, name: str, quantity: Quantity) -> Given:
        """A range of the plant as an input."""
        return Given(name, quantity, known_range(self.plant, column))

    def measure(
        self,
        figures: Sequence[Figure],
        checks: Sequence[Check],
        steps: Sequence[str],
        missing: tuple[Missing, ...],
        *,
        held: tuple[Held, ...] | None = None,
        section: Section | None = None,
    ) -> Measure:
        """The measure, worked out; ``held`` where it holds less than at best."""
        return Measure(
            self.kind,
            self.title,
            self.held if held is None else held,
            self.limits,
            tuple(figures),
            tuple(checks),
            tuple(steps),
            missing,
            section,
        )


FACTS: dict[str, tuple[str, str]] = {
    "plant.height_cm": ("height of the plant", "the grower's or flora's description"),
    "plant.spread_rate": (
        "how fast the plant spreads",
        "growers' accounts; watch it for a season in a tub",
    ),
    "plant.spread_modes": (
        "how the plant spreads",
        "a flora; until then every way is taken as possible",
    ),
    "plant.growth_form": ("growth form of the plant", "a flora"),
    "plant.frost_kill": ("whether frost kills the plant", "growers' accounts for the zone"),
    "doubling_days": (
        "doubling time of the cover, low and high",
        (
            "published growth trials; or photograph the cover twice and work it out from the two "
            "shares"
        ),
    ),
    "place.outlet": (
        "whether water leaves by an outlet in ordinary weather",
        "walk the rim of the water",
    ),
    "place.overflow": (
        "whether a storm can send water over the rim",
        "look for the lowest point of the rim",
    ),
    "place.flood_prone": (
        "whether high water of a neighbour can reach it",
        "the flood map of the county",
    ),
    "place.bank_contact": (
        "whether soil joins it to the ground outside",
        "look for a liner or wall",
    ),
    "place.visited": (
        "whether water birds, livestock, anglers or boats come to it",
        "watch, or ask the owner",
    ),
    "place.area_m2": ("area of the water surface", "measure length and width, or a map"),
    "place.depth_cm": ("depth of water at the planting", "a marked pole at low water"),
    "position.soil": ("what the pot is filled with", "the planting plan"),
    "position.crown_depth_cm": (
        "water over the crown",
        "measure from the water surface to the soil",
    ),
    "pot_volume_l": ("volume of one pot or tub", "the label, or fill it with water and count"),
    "pot_diameter_cm": ("diameter of the pot at the rim", "measure the outside"),
    "pot_base_diameter_cm": ("diameter of the pot at the base", "measure the outside"),
    "pot_height_cm": ("height of the pot", "measure the outside"),
    "plant_mass_kg": (
        "wet mass of one plant at full growth",
        "weigh a grown plant, drained for a minute",
    ),
    "count": ("number of plants of this kind", "the planting plan"),
    "barrier_perimeter_m": ("length round the bed", "measure along the line of the barrier"),
    "island_length_m": ("length of the island", "the plan"),
    "island_width_m": ("width of the island", "the plan"),
    "foam": ("kind of foam", "the maker's sheet: ASTM C578 type"),
    "design_wind_m_s": (
        "gust of wind at plant height",
        "local code or the nearest weather station's yearly gust",
    ),
    "current_m_s": ("speed of the water at the planting", "time a float over a measured length"),
    "water_level_range_cm": (
        "range between low and high water",
        "marks on the bank, or a season's readings",
    ),
    "outlet_design_flow_l_s": (
        "flow that the outlet must pass",
        "the engineer of record; or the pipe's diameter and the water above its centre",
    ),
    "screen_water_depth_cm": (
        "depth of water against the screen",
        "measure at the outlet, at low water",
    ),
    "screen_head_cm": (
        "how far the water may rise at the screen",
        "from the screen's water to the lowest rim",
    ),
    "screen_opening_mm": ("opening of the screen", "the maker's sheet"),
    "drift_kg_day": (
        "plant litter that reaches the screen in a day",
        "weigh what a week leaves on a test screen",
    ),
    "storm_depth_mm": (
        "rainfall of the design storm",
        "NOAA Atlas 14 point precipitation for the site",
    ),
    "storm_return_years": (
        "return period of the design storm",
        "NOAA Atlas 14, or what local code asks for",
    ),
    "catchment_area_m2": (
        "area of the ground that drains into the pond",
        "a contour map; 0 for a pond above its surroundings",
    ),
    "curve_number": (
        "NRCS curve number of that ground",
        "TR-55 table 2-2 with the soil group of the Web Soil Survey",
    ),
    "freeboard_cm": (
        "height from ordinary water to where it first leaves",
        "a level along the rim",
    ),
    "spillway": ("form of the spillway", "look: broad crest, sharp crest or notch"),
    "spillway_length_m": ("length of the spillway crest", "measure it"),
    "bank_above_crest_cm": ("bank above the spillway crest", "a level along the bank"),
    "rain_intensity_mm_h": ("rain intensity over the time of concentration", "NOAA Atlas 14"),
    "runoff_coefficient": ("rational runoff coefficient", "local drainage manual"),
    "wanted_cover_share": ("share of the surface to be covered", "the owner; keep a third open"),
    "planted_cover_share": ("share of the surface planted", "the planting plan"),
    "season_days": (
        "days of growth in a year",
        "days between the last and first frost, or warm-water days",
    ),
    "climate.first_frost": (
        "mean date of the first autumn frost",
        "state climatologist or extension table",
    ),
}
"""By field: what the fact is, and where a person looks it up."""


@dataclass
class Gaps:
    """Gathers the facts that are missing while a measure is worked out."""

    found: list[Missing] = field(default_factory=list)

    def need(self, name: str, value: T | None, needed_for: str) -> T | None:
        """Hand ``value`` through; note it as missing where it is None."""
        if value is None:
            self.note(name, needed_for)
        return value

    def note(self, name: str, needed_for: str) -> None:
        fact, look_up = FACTS[name]
        prefix = "" if "." in name or name == "doubling_days" else "request."
        missing = Missing(prefix + name, fact, needed_for, look_up)
        if all(other.field != missing.field for other in self.found):
            self.found.append(missing)

    def result(self) -> tuple[Missing, ...]:
        return tuple(self.found)


def at_least(
    name: str, found: float, limit: float, unit: Unit, known: Provenance, if_not: str = ""
) -> Check:
    """A check that ``found`` is no less than ``limit``."""
    return _check(name, found, limit, found - limit, unit, known, if_not)


def at_most(
    name: str, found: float, limit: float, unit: Unit, known: Provenance, if_not: str = ""
) -> Check:
    """A check that ``found`` is no more than ``limit``."""
    return _check(name, found, limit, limit - found, unit, known, if_not)


def _check(
    name: str, found: float, limit: float, margin: float, unit: Unit, known: Provenance, if_not: str
) -> Check:
    passes = margin >= -1e-9 * max(1.0, abs(limit))
    exact = Quantity.exact
    return Check(
        name,
        exact(found, unit),
        exact(limit, unit),
        passes,
        exact(margin, unit),
        known,
        "" if passes else if_not,
    )


def no_better_than(held: Iterable[Held], strength: Strength) -> tuple[Held, ...]:
    """The same ways out, none held better than ``strength``."""
    order: tuple[Strength, ...] = ("holds", "slows", "does-not-hold")
    return tuple(
        Held(effect.way_out, max(effect.strength, strength, key=order.index)) for effect in held
    )


def word(name: str, text: str) -> Given:
    """An input that is a word."""
    return Given(name, None, COMMON_PRACTICE, text)
