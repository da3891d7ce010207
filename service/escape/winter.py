"""Winter, warm end and season: does the plant live on at the site's temperatures.

The site is placed by its mean annual extreme minimum temperature, the plant by the zones it is
grown in. A milder winter relative to the plant never lowers survival. The coldest zone grown is not
a tested limit, so the true limit is a range around it, wider where roots or buds under water
outlive the frost.

Zone n of the USDA Plant Hardiness Zone Map begins at -60 + 10 (n - 1) degrees Fahrenheit; its half
zones are 5 degrees wide.
"""

import datetime
import math
import re
from dataclasses import dataclass
from functools import lru_cache

from service.errors import BadRequest, UnknownValue
from service.escape.interval import Interval, noisy_or
from service.escape.parameters import Parameters
from service.escape.values import Winter
from service.values.plants import Range, Traits
from service.values.site import Climate
from service.values.vocabulary import HowKnown

_ZONE = re.compile(r"([1-9]|1[0-3])([ab]?)")
COLDEST_C, WARMEST_C = (-60 - 32) / 1.8, (70 - 32) / 1.8
"""Ends of the zone map: zone 1 to zone 13, -51.1 to 21.1 degrees C."""


@dataclass(frozen=True, slots=True)
class SiteCold:
    """Mean annual extreme minimum temperature of a site, and how it is known."""

    celsius: Range
    known: bool
    how_known: HowKnown
    text: str


def zone_range_c(zone: str) -> Range:
    """Temperatures of a zone (``6``) or half zone (``6b``), degrees C.

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


@lru_cache(maxsize=8192)
def winter(traits: Traits, climate: Climate, parameters: Parameters) -> Winter:
    """Survival of the plant, its return from seed or buds, and either of the two."""
    site = site_cold(climate).celsius
    limit = cold_limit_c(traits, parameters)
    spread = parameters.span("winter.spread.cold")
    survives = _between(site.low - limit.high, site.high - limit.low, spread)
    returns = _returns(traits, site, limit, spread, parameters)
    return Winter(survives, returns, noisy_or((survives, returns)), site, limit)


def cold_limit_c(traits: Traits, parameters: Parameters) -> Range:
    """Where the cold limit of the plant may lie, degrees C."""
    zones = (
        parameters.span("winter.unknown_zone.coldest")
        if traits.zone_min is None
        else (traits.zone_min,) * 2
    )
    kind = traits.frost_kill
    kinds = ("yes", "top-only", "no") if kind is None or kind == "unknown" else (kind,)
    shifts = [parameters.span(f"winter.shift.{one}") for one in kinds]
    return Range(
        _zone_floor_c(zones[0]) + min(low for low, _ in shifts),
        _zone_floor_c(zones[1]) + max(high for _, high in shifts),
    )


def _zone_floor_c(zone: float) -> float:
    return (-60 + 10 * (zone - 1) - 32) / 1.8


def _returns(
    traits: Traits, site: Range, limit: Range, spread: tuple[float, float], parameters: Parameters
) -> Interval:
    banks = [
        parameters.interval(f"winter.bank.{propagule}")
        for propagule in ("seed", "spore", "turion", "tuber", "bulbil")
        if propagule in traits.spread_modes
    ]
    if traits.perennating_organ.lower().startswith("seed"):
        banks.append(parameters.interval("winter.bank.annual"))
    if not traits.spread_modes:
        banks = [
            Interval(
                0.0, noisy_or(parameters.interval(f"winter.bank.{key}") for key in _BANKS).high
            )
        ]
    margin_low, margin_high = parameters.span("winter.bank_margin.margin")
    reached = _between(
        site.low - limit.high + margin_low, site.high - limit.low + margin_high, spread
    )
    return noisy_or(banks) * reached


_BANKS = ("seed", "spore", "turion", "tuber", "bulbil", "annual")


def _between(margin_low_c: float, margin_high_c: float, spread_c: tuple[float, float]) -> Interval:
    """Logistic in the margin; the spread acts either way, so both ends of it are tried."""
    return Interval(
        min(_logistic(margin_low_c / spread) for spread in spread_c),
        max(_logistic(margin_high_c / spread) for spread in spread_c),
    )


def _logistic(x: float) -> float:
    return 1.0 / (1.0 + math.exp(-x)) if x > -700 else 0.0


@lru_cache(maxsize=8192)
def warm_end(zone_max: int | None, climate: Climate, parameters: Parameters) -> Interval:
    """Chance that the site is not too warm for the plant. A higher warmest zone never lowers it."""
    site = site_cold(climate).celsius
    zones = (
        parameters.span("warm.unknown_zone.warmest") if zone_max is None else (zone_max, zone_max)
    )
    shift_low, shift_high = parameters.span("warm.shift.margin")
    margin_low = _zone_floor_c(zones[0] + 1) + shift_low - site.high
    margin_high = _zone_floor_c(zones[1] + 1) + shift_high - site.low
    within = _between(margin_low, margin_high, parameters.span("winter.spread.warm"))
    return noisy_or((within, parameters.interval("warm.floor.beyond")))


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
            f"First frost {first_frost!r} is no day of the year.",
            next_step="Write month and day: 10-05.",
        ) from error
    middle_low, middle_high = parameters.span("season.middle.day")
    days = [min(365.0, max(0.0, 2 * (frost - middle))) for middle in (middle_high, middle_low)]
    return Range(days[0], days[1])


@lru_cache(maxsize=512)
def season(first_frost: str | None, parameters: Parameters) -> Interval:
    """Chance that the season is long enough. A longer season never lowers it."""
    days = season_days(first_frost, parameters)
    need_low, need_high = parameters.span("season.needed.days")
    return Interval(min(1.0, days.low / need_high), min(1.0, days.high / need_low))
