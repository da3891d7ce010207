"""Establish: what arrives founds a stand that lasts and grows.

A product of winter, warm end, season, founding, growth, habitat and origin. Each is a chance of its
own; the occurrence records then update their product (see ``posterior``).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from service.escape import habitat
from service.escape.factors import BY_REQUEST, NOT_GIVEN, pulls_down
from service.escape.interval import CERTAIN, Interval, noisy_or, product
from service.escape.parameters import Parameters
from service.escape.release import PROPAGULES, presence
from service.escape.values import Factor, Winter
from service.escape.winter import season, season_days, site_cold, warm_end, winter
from service.values.plants import Plant, Provenance, Traits
from service.values.site import Climate
from service.values.vocabulary import Flow, Jurisdiction, WaterKind
from service.values.waters import Water


@lru_cache(maxsize=4096)
def founding(traits: Traits, parameters: Parameters) -> Interval:
    """At least one of the plant's propagules founds a stand.

    A further way of spreading never lowers it.
    """
    made = presence(traits)
    return noisy_or(
        made[propagule] * parameters.interval(f"founding.{propagule}")
        for propagule in PROPAGULES
        if made[propagule].high > 0.0
    )


@lru_cache(maxsize=4096)
def growth(traits: Traits, parameters: Parameters) -> Interval:
    """A founded plant grows to a lasting stand.

    From the doubling time where one is published, narrowed by the growers' rating unless the two
    contradict, when the measurement stands alone; from the rating alone; or unknown. A shorter
    doubling time or a faster rating never lowers it.
    """
    ratings = parameters.keys_under("growth.rating")
    rated = (
        None
        if traits.spread_rate is None
        else parameters.interval(f"growth.rating.{traits.spread_rate}")
    )
    if traits.doubling_days is None:
        if rated is not None:
            return rated
        spans = [parameters.span(f"growth.rating.{rating}") for rating in ratings]
        return Interval(min(low for low, _ in spans), max(high for _, high in spans))
    half_low, half_high = parameters.span("growth.doubling.half")
    measured = Interval(
        half_low / (half_low + traits.doubling_days.high),
        half_high / (half_high + traits.doubling_days.low),
    )
    return measured & rated if rated is not None and measured.overlaps(rated) else measured


@dataclass(frozen=True, slots=True)
class Establishment:
    """The establish stage before the records: its factors for the plant at the site, and for each
    water.

    Attributes:
        of_plant: product of what is the same for every water.
    """

    winter: Winter
    shared: tuple[Factor, ...]
    of_plant: Interval


def at_site(plant: Plant, climate: Climate, parameters: Parameters) -> Establishment:
    """What the site decides: winter, warm end, season; and what the plant brings: founding,
    growth.
    """
    cold = winter(plant.traits, climate, parameters)
    shared = (
        _winter_factor(plant, cold, climate, parameters),
        _warm_factor(plant, climate, parameters),
        _season_factor(climate, parameters),
        _founding_factor(plant, parameters),
        _growth_factor(plant, parameters),
    )
    return Establishment(cold, shared, product(factor.interval for factor in shared))


def plant_interval(
    traits: Traits, climate: Climate, parameters: Parameters, *, through_winter: bool = True
) -> Interval:
    """The product of ``at_site`` without its factors.

    Args:
        through_winter: False leaves winter out, as for a single summer.
    """
    persists = winter(traits, climate, parameters).persists if through_winter else CERTAIN
    return product(
        (
            persists,
            warm_end(traits.zone_max, climate, parameters),
            season(climate.first_frost, parameters),
            founding(traits, parameters),
            growth(traits, parameters),
        )
    )


def habitat_interval(
    traits: Traits,
    kind: WaterKind | None,
    flow: Flow | None,
    states: tuple[Jurisdiction, ...],
    parameters: Parameters,
) -> Interval:
    """The product of ``in_water`` without its factors; a kind or flow of None is any."""
    return product(
        (
            habitat.depth_match(traits, kind, parameters),
            habitat.flow_match(traits.flow, flow, parameters),
            habitat.light_match(traits, kind, parameters),
            habitat.room(traits.growth_form, kind, parameters),
            habitat.origin(traits, states, parameters),
        )
    )


def in_water(plant: Plant, water: Water | None, parameters: Parameters) -> tuple[Factor, ...]:
    """What the water decides: depth, flow, light, room, origin. None is a water that no map
    shows.
    """
    traits = plant.traits
    kind = water.kind if water else None
    flow = water.flow if water else None
    states = water.states if water else ()
    some = kind or "pond"
    known: Mapping[str, Provenance] = {
        column: plant.known(column) for column in ("depth_cm_min", "flow", "light")
    }
    least = traits.depth_cm.low if traits.depth_cm else None
    return (
        pulls_down(
            "depth of the water",
            least,
            "cm" if least is not None else "",
            habitat.depth_match(traits, kind, parameters),
            "lowers",
            known["depth_cm_min"],
            parameters.coefficient(f"habitat.depth.{some}"),
        ),
        pulls_down(
            "flow of the water",
            flow,
            "",
            habitat.flow_match(traits.flow, flow, parameters),
            "lowers",
            known["flow"],
            parameters.coefficient("habitat.flow.same"),
        ),
        pulls_down(
            "light",
            ", ".join(traits.light) or None,
            "",
            habitat.light_match(traits, kind, parameters),
            "raises",
            known["light"],
            parameters.coefficient(f"habitat.open_light.{some}"),
        ),
        pulls_down(
            "room for the growth form",
            f"{traits.growth_form} in a {kind}"
            if traits.growth_form and kind
            else traits.growth_form,
            "",
            habitat.room(traits.growth_form, kind, parameters),
            "raises",
            plant.known("growth_form") if traits.growth_form else NOT_GIVEN,
            parameters.coefficient(f"habitat.form.{traits.growth_form or 'emergent'}.{some}"),
        ),
        pulls_down(
            "origin",
            _origin_text(traits),
            "",
            habitat.origin(traits, states, parameters),
            "raises",
            plant.known("native_north_america") if traits.native_north_america else NOT_GIVEN,
            parameters.coefficient("origin.introduced"),
        ),
    )


def _origin_text(traits: Traits) -> str | None:
    where = ", ".join(traits.native_regions)
    return {
        "yes": f"native to {where or 'North America'}",
        "part": "native in part, or disputed",
        "no": "not native to North America",
        None: None,
    }[traits.native_north_america]


def _winter_factor(plant: Plant, cold: Winter, climate: Climate, parameters: Parameters) -> Factor:
    zone = plant.traits.zone_min
    site = site_cold(climate)
    value = None
    if zone is not None and site.known:
        value = f"grown from zone {zone} up; site {site.text}"
    fact = plant.known("zone_min") if zone is not None else NOT_GIVEN
    kind = plant.traits.frost_kill
    key = f"winter.shift.{kind if kind in ('yes', 'no') else 'top-only'}"
    return pulls_down(
        "winter", value, "", cold.persists, "raises", fact, parameters.coefficient(key)
    )


def _warm_factor(plant: Plant, climate: Climate, parameters: Parameters) -> Factor:
    zone = plant.traits.zone_max
    return pulls_down(
        "warm end",
        None if zone is None else f"grown up to zone {zone}",
        "",
        warm_end(zone, climate, parameters),
        "raises",
        plant.known("zone_max") if zone is not None else NOT_GIVEN,
        parameters.coefficient("warm.shift.margin"),
    )


def _season_factor(climate: Climate, parameters: Parameters) -> Factor:
    days = season_days(climate.first_frost, parameters)
    return pulls_down(
        "growing season",
        f"{days.low:.0f} to {days.high:.0f}" if climate.first_frost else None,
        "days" if climate.first_frost else "",
        season(climate.first_frost, parameters),
        "raises",
        BY_REQUEST if climate.first_frost else NOT_GIVEN,
        parameters.coefficient("season.needed.days"),
    )


def _founding_factor(plant: Plant, parameters: Parameters) -> Factor:
    modes = plant.traits.spread_modes
    key = f"founding.{modes[0]}" if modes else "founding.seed"
    if "fragment" in modes:
        key = "founding.fragment"
    return pulls_down(
        "founding",
        ", ".join(modes) or None,
        "",
        founding(plant.traits, parameters),
        "raises",
        plant.known("spread_modes") if modes else NOT_GIVEN,
        parameters.coefficient(key),
    )


def _growth_factor(plant: Plant, parameters: Parameters) -> Factor:
    traits = plant.traits
    interval = growth(traits, parameters)
    if traits.doubling_days is not None:
        days = traits.doubling_days
        text = f"{days.low:g}" if days.low == days.high else f"{days.low:g} to {days.high:g}"
        coefficient = parameters.coefficient("growth.doubling.half")
        return pulls_down(
            "growth",
            text,
            "days to double",
            interval,
            "lowers",
            plant.known("doubling_days_min"),
            coefficient,
        )
    rated = traits.spread_rate
    return pulls_down(
        "growth",
        rated,
        "",
        interval,
        "raises",
        plant.known("spread_rate") if rated else NOT_GIVEN,
        parameters.coefficient(f"growth.rating.{rated or 'moderate'}"),
    )
