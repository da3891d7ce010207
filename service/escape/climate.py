"""Winter, warm end and season: does the plant live on at the site's temperatures.

The site is placed by its mean annual extreme minimum temperature, the plant by the zones it is
grown in. A milder winter relative to the plant never lowers survival. The coldest zone grown is not
a tested limit, so the true limit is a range around it, wider where roots or buds under water
outlive the frost.

Zone n of the USDA Plant Hardiness Zone Map begins at -60 + 10 (n - 1) degrees Fahrenheit; its half
zones are 5 degrees wide.
"""

import datetime
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from service.errors import BadRequest, UnknownValue
from service.escape.draws import Array, Draws
from service.escape.parameters import Parameters
from service.values.plants import Range, Traits
from service.values.site import Climate
from service.values.vocabulary import HowKnown

_ZONE = re.compile(r"([1-9]|1[0-3])([ab]?)")
COLDEST_C, WARMEST_C = (-60 - 32) / 1.8, (70 - 32) / 1.8
"""Ends of the zone map: zone 1 to zone 13, -51.1 to 21.1 degrees C."""
_BANKS = ("seed", "spore", "turion", "tuber", "bulbil")


@dataclass(frozen=True, slots=True)
class SiteCold:
    """Mean annual extreme minimum temperature of a site, and how it is known."""

    celsius: Range
    known: bool
    how_known: HowKnown
    text: str


def zone_range_c(zone: str) -> Range:
    """Temperatures of a zone (``6``) or half zone (``6b``), degrees C.

    >>> zone_range_c("6b")
    Range(low=-20.555555555555554, high=-17.77777777777778)

    Raises:
        UnknownValue: no such zone.
    """
    match = _ZONE.fullmatch(zone.strip().lower())
    if match is None:
        raise UnknownValue(
            "Hardiness zone", zone, ["1a", "1b", "2a", "...", "13b", "or a whole zone such as 6"]
        )
    low_f = -60 + 10 * (int(match[1]) - 1) + (5 if match[2] == "b" else 0)
    return Range((low_f - 32) / 1.8, (low_f + (5 if match[2] else 10) - 32) / 1.8)


@lru_cache(maxsize=512)
def site_cold(climate: Climate) -> SiteCold:
    """From the temperature where it is given, narrowed by the zone where that is given too and
    does not contradict.
    """
    zone = zone_range_c(climate.hardiness_zone) if climate.hardiness_zone else None
    if climate.extreme_minimum_c is not None:
        measured = Range(*climate.extreme_minimum_c)
        text = f"{measured.low:g} to {measured.high:g}"
        if zone is not None and zone.low <= measured.high and measured.low <= zone.high:
            measured = Range(max(zone.low, measured.low), min(zone.high, measured.high))
        return SiteCold(measured, True, "measured", text)
    if zone is not None:
        return SiteCold(zone, True, "user", f"zone {climate.hardiness_zone}")
    return SiteCold(Range(COLDEST_C, WARMEST_C), False, "common-practice", "")


@dataclass(frozen=True, slots=True)
class WinterRows:
    """Row by row: the plant survives, returns where it dies, persists by either; and its limit in
    degrees C.
    """

    survives: Array
    returns: Array
    persists: Array
    limit_c: Array


def winter(traits: Traits, climate: Climate, draws: Draws) -> WinterRows:
    """Survival of the plant, its return from seed or buds, and either of the two."""
    site = site_cold(climate).celsius
    banks = tuple(_banks(traits))
    frost = traits.frost_kill
    key = ("winter", site, traits.zone_min, frost, _lives_from_seed(traits), banks)
    return draws.kept.of(key, lambda: _winter(traits, site, banks, draws))


def _winter(traits: Traits, site: Range, banks: Sequence[str], draws: Draws) -> WinterRows:
    site_c = draws.ranged("climate.hardiness_zone", site.low, site.high)
    limit_c = _limit_c(traits, draws)
    survives = _logistic(site_c - limit_c, "winter.spread.cold", draws)
    margin = site_c - limit_c + draws.of("winter.bank_margin.margin")
    none_left = draws.known(1.0)
    for bank in banks:
        none_left *= 1.0 - draws.of(f"winter.bank.{bank}")
    banked = 1.0 - none_left
    returns = banked * _logistic(margin, "winter.spread.cold", draws)
    return WinterRows(survives, returns, 1.0 - (1.0 - survives) * (1.0 - returns), limit_c)


def _limit_c(traits: Traits, draws: Draws) -> Array:
    """Where the cold limit of the plant lies, degrees C, row by row."""
    if traits.zone_min is None:
        zone = unknown_zone(traits, draws)
    else:
        zone = draws.known(float(traits.zone_min))
    kind = traits.frost_kill
    if kind in (None, "unknown"):
        shifts = [draws.of(f"winter.shift.{one}") for one in ("yes", "top-only", "no")]
        shift = -draws.any_of("plant.frost_kill", [-one for one in shifts])
    else:
        shift = draws.of(f"winter.shift.{kind}")
    found: Array = _zone_floor_c(zone) + shift
    return found


def unknown_zone(traits: Traits, draws: Draws) -> Array:
    """Coldest zone of a plant for which nobody has stated one; narrower for a perennial that frost
    kills whole.
    """
    tender = traits.frost_kill == "yes" and not _lives_from_seed(traits)
    key = "frost_killed" if tender else "coldest"
    low, high = draws.parameters.span(f"winter.unknown_zone.{key}")
    return draws.ranged("plant.zone_min", high, low)


def _lives_from_seed(traits: Traits) -> bool:
    return traits.perennating_organ.lower().startswith("seed")


def _zone_floor_c(zone: Array) -> Array:
    found: Array = (-60.0 + 10.0 * (zone - 1.0) - 32.0) / 1.8
    return found


def _banks(traits: Traits) -> Iterator[str]:
    for propagule in _BANKS:
        if propagule in traits.spread_modes and not (propagule == "seed" and _sterile(traits)):
            yield propagule
    if _lives_from_seed(traits):
        yield "annual"


def _sterile(traits: Traits) -> bool:
    return traits.history is not None and traits.history.sterile == "yes"


def _logistic(margin_c: Array, spread_key: str, draws: Draws) -> Array:
    """Logistic in the margin; in the corner rows the spread that goes further is taken."""
    spread = draws.of(spread_key)
    found: Array = 1.0 / (1.0 + np.exp(-np.clip(margin_c / spread, -700, 700)))
    low, high = draws.parameters.span(spread_key)
    for row, pick in ((-3, np.min), (-1, np.max)):
        ends = 1.0 / (1.0 + np.exp(-np.clip(margin_c[row] / np.array((low, high)), -700, 700)))
        found[row] = pick(ends)
    return found


def warm_end(zone_max: int | None, climate: Climate, draws: Draws) -> Array:
    """Chance that the site is not too warm for the plant. A higher warmest zone never lowers it."""
    site = site_cold(climate).celsius
    return draws.kept.of(("warm", site, zone_max), lambda: _warm_end(zone_max, site, draws))


def _warm_end(zone_max: int | None, site: Range, draws: Draws) -> Array:
    site_c = -draws.ranged("climate.warm_end", -site.high, -site.low)
    if zone_max is None:
        zone = draws.ranged("plant.zone_max", *draws.parameters.span("warm.unknown_zone.warmest"))
    else:
        zone = draws.known(float(zone_max))
    margin = _zone_floor_c(zone + 1.0) + draws.of("warm.shift.margin") - site_c
    within = _logistic(margin, "winter.spread.warm", draws)
    return 1.0 - (1.0 - within) * (1.0 - draws.of("warm.floor.beyond"))


@lru_cache(maxsize=512)
def season_days(first_frost: str | None, parameters: Parameters) -> Range:
    """Frost-free days: twice the time from the middle of the season to the first frost.

    Raises:
        BadRequest: the date is not ``MM-DD``.
    """
    if first_frost is None:
        return Range(*parameters.span("season.unknown.days"))
    try:
        frost = datetime.date.fromisoformat(f"2023-{first_frost}").timetuple().tm_yday
    except ValueError as error:
        raise BadRequest(
            f"First frost {first_frost!r} is not a day of the year.",
            next_step="Write month and day: 10-05.",
        ) from error
    middle_low, middle_high = parameters.span("season.middle.day")
    days = [min(365.0, max(0.0, 2 * (frost - middle))) for middle in (middle_high, middle_low)]
    return Range(days[0], days[1])


def season(first_frost: str | None, draws: Draws) -> Array:
    """Chance that the season is long enough. A longer season never lowers it."""
    return draws.kept.of(("season", first_frost), lambda: _season(first_frost, draws))


def _season(first_frost: str | None, draws: Draws) -> Array:
    days = season_days(first_frost, draws.parameters)
    least, most = draws.parameters.span("season.unknown.days")
    low, high = max(least, days.low), min(most, days.high)
    drawn = draws.ranged("climate.first_frost", min(low, high), high)
    return np.minimum(1.0, drawn / draws.of("season.needed.days"))
