"""Winter: hardy, hardy below ice, tender; and what to do in autumn.

USDA Plant Hardiness Zone Map: zone n spans 10 F of mean annual extreme minimum from -60 + 10 (n -
    1) F.
"""

import math
import re
from dataclasses import dataclass

from service.errors import BadRequest
from service.fit.values import Aspect, Change, Verdict, Winter, coefficients
from service.values.plants import COMMON_PRACTICE, Plant, Range
from service.values.quantities import Quantity
from service.values.seasons import day_in_words, days_before
from service.values.site import Climate, Place, Position
from service.values.workings import Coefficient, Missing

NOT_A_LIMIT = "The coldest zone is where it is grown, not a tested limit."
_RESTS_UNDER_WATER = ("floating-leaved", "submerged", "emergent")


@dataclass(frozen=True, slots=True)
class WinterFit:
    """The winter aspect with its class and autumn work."""

    aspect: Aspect
    winter: Winter
    autumn: str
    missing: tuple[Missing, ...]


def site_zones(climate: Climate) -> Range | None:
    """Whole zones that the site may lie in; a half zone is its whole zone.

    >>> site_zones(Climate(hardiness_zone="6b"))
    Range(low=6, high=6)
    >>> site_zones(Climate()) is None
    True

    Raises:
        BadRequest: a zone that the map does not have.
    """
    if climate.hardiness_zone is not None:
        match = re.fullmatch(r"\s*(\d{1,2})\s*([abAB]?)\s*", climate.hardiness_zone)
        zone = int(match.group(1)) if match else 0
        if not 1 <= zone <= 13:
            raise BadRequest(
                f"The hardiness zone {climate.hardiness_zone!r} is not on the map.",
                pointer="/climate/hardiness_zone",
                next_step="Use 1a to 13b.",
            )
        return Range(zone, zone)
    if climate.extreme_minimum_c is not None:
        low, high = climate.extreme_minimum_c
        return Range(_zone_of(low), _zone_of(high))
    return None


def winter_fit(
    plant: Plant, place: Place, position: Position, climate: Climate, crown_cm: float | None
) -> WinterFit:
    """How the plant meets the winter of the site in this position."""
    zones, least = site_zones(climate), plant.traits.zone_min
    if zones is None or least is None:
        return _unknown(zones, least)
    if zones.low < least <= zones.high:
        site = Missing(
            "climate.hardiness_zone",
            "hardiness zone of the site",
            "winter",
            "the USDA map by ZIP code",
        )
        found = f"Grown from zone {least}; the site may lie on either side of it. {NOT_A_LIMIT}"
        return WinterFit(_aspect(plant, "unknown", found), "unknown", "", (site,))
    if zones.high < least:
        return _tender(plant, place, climate, crown_cm, zones, least)
    return _hardy(plant, place, position, crown_cm, zones, least)


def _zone_of(extreme_minimum_c: float) -> int:
    fahrenheit = extreme_minimum_c * 9 / 5 + 32
    return min(13, max(1, math.floor((fahrenheit + 60) / 10 + 1e-9) + 1))


def _unknown(zones: Range | None, least: int | None) -> WinterFit:
    missing: list[Missing] = []
    if zones is None:
        missing.append(
            Missing(
                "climate.hardiness_zone",
                "hardiness zone of the site",
                "winter",
                "the USDA map by ZIP code",
            )
        )
    if least is None:
        missing.append(
            Missing(
                "plant.zone_min", "coldest zone where it is grown", "winter", "growers' accounts"
            )
        )
    found = (
        "Whether it lives through the winter cannot be said without "
        + " and ".join(m.fact for m in missing)
        + "."
    )
    return WinterFit(
        Aspect("winter", "unknown", found, COMMON_PRACTICE), "unknown", "", tuple(missing)
    )


def _hardy(
    plant: Plant, place: Place, position: Position, crown_cm: float | None, zones: Range, least: int
) -> WinterFit:
    most = plant.traits.zone_max
    grown = f"Grown in zones {least} to {most}" if most else f"Grown from zone {least}"
    site = _zone_text(zones)
    if most is not None and zones.low > most:
        found = f"{grown}; the site, in {site}, is warmer, and it may lack its winter rest."
        return WinterFit(_aspect(plant, "does-not-fit", found), "hardy", "", ())
    if plant.traits.growth_form in ("floating-leaved", "submerged") and zones.low < 8:
        return _rests_below_ice(
            plant, place, crown_cm, zones, f"{grown}; the site is in {site}. {NOT_A_LIMIT}"
        )
    raised = coefficients()["raised_tub_zones"]
    found = f"{grown}; the site is in {site}. {NOT_A_LIMIT}"
    if position.holding == "no-drain-tub" and zones.low - raised.value < least:
        change = Change(
            "Sink the tub in the ground for the winter, or move it where it does not freeze "
            "through."
        )
        found = f"{found} Roots in a raised tub freeze as if about {raised.value:g} zone colder."
        return WinterFit(
            _aspect(plant, "fits-with-change", found, change), "hardy", change.text, ()
        )
    return WinterFit(_aspect(plant, "fits", found), "hardy", _annual(plant), ())


def _rests_below_ice(
    plant: Plant, place: Place, crown_cm: float | None, zones: Range, found: str
) -> WinterFit:
    """A plant hardy by its zone whose resting crown must not freeze into the ice."""
    ice = _ice_cm(place, zones)
    if crown_cm is not None and crown_cm >= ice.high:
        text = f"{found} The crown lies below the ice ({Quantity(ice.low, ice.high, 'cm').text()})."
        return WinterFit(_aspect(plant, "fits", text), "hardy-below-ice", "", ())
    if crown_cm is not None and place.freezing_depth_cm is not None:
        margin = coefficients()["ice_margin"]
        lower_cm = Quantity.exact(ice.high + margin.value - crown_cm, "cm")
        deep_enough = place.depth_cm is None or place.depth_cm >= crown_cm + lower_cm.low
        text = (
            f"Lower it {lower_cm.text()} before the water freezes."
            if deep_enough
            else _store(plant)
        )
        change = Change(text, lower_cm if deep_enough else None)
        ice_text = Quantity.exact(ice.high, "cm").text()
        return WinterFit(
            _aspect(
                plant,
                "fits-with-change",
                f"{found} Ice reaches {ice_text}, into the crown.",
                change,
            ),
            "hardy-below-ice",
            text,
            (),
        )
    missing: list[Missing] = []
    if place.freezing_depth_cm is None:
        missing.append(_ice_missing())
    if crown_cm is None:
        missing.append(_crown_missing())
    text = (
        f"{found} It lives if the crown stays below the ice; how deep that is, is not known here."
    )
    return WinterFit(_aspect(plant, "unknown", text), "unknown", "", tuple(missing))


def _tender(
    plant: Plant, place: Place, climate: Climate, crown_cm: float | None, zones: Range, least: int
) -> WinterFit:
    found = f"Grown from zone {least}; the site, in {_zone_text(zones)}, is colder. {NOT_A_LIMIT}"
    missing: tuple[Missing, ...] = ()
    if plant.traits.frost_kill in (None, "unknown"):
        missing = (
            Missing(
                "plant.frost_kill",
                "whether frost kills it to the root",
                "winter",
                "growers' accounts",
            ),
        )
    if _may_rest_below_ice(plant, zones, least):
        ice = _ice_cm(place, zones)
        deep_cm = ice.high + coefficients()["ice_margin"].value
        deep = Quantity.exact(deep_cm, "cm").text()
        if crown_cm is not None and crown_cm >= deep_cm:
            change = Change(
                f"Keep the crown {deep} or more under water all winter; if that cannot be "
                f"kept, {_store(plant, mid=True)}"
            )
            text = f"{found} Only the top dies; below the ice the crown may live."
            return WinterFit(
                _aspect(plant, "fits-with-change", text, change),
                "hardy-below-ice",
                change.text,
                missing,
            )
        sink = ""
        if place.depth_cm is None or place.depth_cm >= deep_cm:
            sink = (
                f" Or sink the crown {deep} deep, below the ice, until spring; whether it "
                "lives there is not tested."
            )
        autumn = _seasonal(plant, climate) + sink
        text = (
            f"{found} The top dies at the first hard freeze, and the crown with it where it "
            "freezes."
        )
        return WinterFit(
            _aspect(plant, "fits-with-change", text, Change(autumn)), "tender", autumn, missing
        )
    autumn = _seasonal(plant, climate)
    text = f"{found} It dies at the first hard freeze: a plant for one season."
    return WinterFit(
        _aspect(plant, "fits-with-change", text, Change(autumn)), "tender", autumn, missing
    )


def _may_rest_below_ice(plant: Plant, zones: Range, least: int) -> bool:
    """Only the top dies at frost, something rests, and the gap is small enough."""
    traits = plant.traits
    rests = bool(traits.perennating_organ) and not traits.perennating_organ.startswith("seed")
    near = least - zones.low <= coefficients()["below_ice_zones"].value
    return (
        rests
        and near
        and traits.frost_kill in ("top-only", "no")
        and traits.growth_form in _RESTS_UNDER_WATER
    )


def _ice_cm(place: Place, zones: Range) -> Range:
    """Ice as stated, else all that the zone may bring."""
    if place.freezing_depth_cm is not None:
        return Range(place.freezing_depth_cm, place.freezing_depth_cm)
    ice = _ice_of_zone(int(zones.low))
    return Range(ice.low, ice.high)


def _ice_of_zone(zone: int) -> Coefficient:
    return coefficients()[f"ice_zone_{min(8, max(4, zone))}"]


def _seasonal(plant: Plant, climate: Climate) -> str:
    lead = coefficients()["frost_lead"].value
    when = "before the first frost"
    if climate.first_frost is not None:
        when = (
            f"by {day_in_words(days_before(climate.first_frost, lead))}, {lead:g} days before "
            "the mean first frost"
        )
    return f"Treat it as a plant for one season: {when}, {_store(plant, mid=True)}"


def _store(plant: Plant, *, mid: bool = False) -> str:
    where = (
        "in water under lights"
        if plant.traits.growth_form in ("free-floating", "submerged")
        else "moist"
    )
    text = (
        f"lift it, and keep it frost-free indoors, {where}, or dry it on land away from water "
        "and bin it."
    )
    return text if mid else text.capitalize()


def _annual(plant: Plant) -> str:
    if plant.traits.perennating_organ.startswith("seed"):
        return (
            "An annual: it dies in autumn and comes again from seed; take it out before the "
            "seed is ripe."
        )
    return ""


def _zone_text(zones: Range) -> str:
    if zones.low == zones.high:
        return f"zone {zones.low:g}"
    return f"zone {zones.low:g} to {zones.high:g}"


def _ice_missing() -> Missing:
    return Missing(
        "place.freezing_depth_cm",
        "how deep ice reaches",
        "winter",
        "a neighbour's pond, or a winter's look",
    )


def _crown_missing() -> Missing:
    return Missing(
        "position.crown_depth_cm",
        "water over the crown",
        "winter",
        "measure from the surface to the soil",
    )


def _aspect(plant: Plant, verdict: Verdict, found: str, change: Change | None = None) -> Aspect:
    return Aspect("winter", verdict, found, plant.known("zone_min"), change)
