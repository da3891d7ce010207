"""Spacing and number of plants for cover, and the share of the surface through the season."""

import math

from service.fit.values import Cover, SharePoint, coefficients
from service.values.growth import growth_rate_per_day, logistic_share
from service.values.plants import COMMON_PRACTICE, Plant, Range
from service.values.quantities import Quantity
from service.values.site import Place
from service.values.workings import BY_USER, Coefficient, Missing, known_range

_TRIANGLE = math.sqrt(3) / 2
"""Area that one plant takes in a triangular grid, as a share of the square of the spacing
(geometry).
"""
_STEPS = 6


def cover(
    plant: Plant,
    place: Place,
    *,
    count: int | None = None,
    bed_m2: float | None = None,
    wanted_share: float | None = None,
    planted_share: float | None = None,
    season_days: int | None = None,
    doubling_days: Range | None = None,
) -> Cover:
    """Spacing, number and cover.

    Args:
        count: plants that are planned.
        bed_m2: area to be covered; the wanted share of the water surface if not given.
        wanted_share, planted_share: of the water surface, 0 to 1.
        season_days: days of growth from planting.
        doubling_days: in place of the plant's own.
    """
    form = plant.traits.growth_form
    missing: list[Missing] = []
    if form is None:
        missing.append(Missing("plant.growth_form", "growth form", "cover", "a flora"))
        return Cover(plant.plant_id, None, None, None, (), "", COMMON_PRACTICE, tuple(missing))
    area_m2 = bed_m2
    if area_m2 is None and place.area_m2 is not None and wanted_share is not None:
        area_m2 = place.area_m2 * wanted_share
    if form == "free-floating":
        return _floaters(plant, place, count, planted_share, season_days, doubling_days, area_m2)
    if form == "floating-leaved":
        return _floating_leaves(plant, place, count, season_days, area_m2)
    return _set_out(plant, count, area_m2)


def room_m2(plant: Plant) -> Range | None:
    """Room that one plant takes, from the closest planting of practice to the widest; None for
    floaters, which multiply until the water is full, and where the height is not known.
    """
    form = plant.traits.growth_form
    if form in (None, "free-floating"):
        return None
    if form == "floating-leaved":
        return _leaf_spread_m2(plant)
    spacing = _spacing(plant)
    if spacing is None:
        return None
    closest = min(spacing.low, coefficients()["spacing_plugs"].value)
    return Range(_TRIANGLE * (closest / 100) ** 2, _TRIANGLE * (spacing.high / 100) ** 2)


def _set_out(plant: Plant, count: int | None, area_m2: float | None) -> Cover:
    spacing = _spacing(plant)
    if spacing is None:
        fact = Missing(
            "plant.height_cm",
            "height of the plant",
            "spacing",
            "the grower's or flora's description",
        )
        return Cover(plant.plant_id, None, None, None, (), "", COMMON_PRACTICE, (fact,))
    per_plant_m2 = Range(
        _TRIANGLE * (spacing.low / 100) ** 2, _TRIANGLE * (spacing.high / 100) ** 2
    )
    needed, full, missing = _number(per_plant_m2, count, area_m2)
    return Cover(plant.plant_id, spacing.span(), needed, full, (), "", spacing.known, missing)


def _floating_leaves(
    plant: Plant, place: Place, count: int | None, season_days: int | None, area_m2: float | None
) -> Cover:
    leaf_m2 = _leaf_spread_m2(plant)
    needed, full, missing = _number(leaf_m2, count, area_m2)
    spacing = Quantity(math.sqrt(leaf_m2.low / _TRIANGLE), math.sqrt(leaf_m2.high / _TRIANGLE), "m")
    season: tuple[SharePoint, ...] = ()
    if count is not None and place.area_m2 and season_days is not None:
        grown = Range(
            min(1.0, count * leaf_m2.low / place.area_m2),
            min(1.0, count * leaf_m2.high / place.area_m2),
        )
        season = (
            SharePoint(0, Quantity.exact(0, "share")),
            SharePoint(season_days // 2, Quantity(0, grown.high, "share")),
            SharePoint(season_days, Quantity(grown.low, grown.high, "share")),
        )
    else:
        missing += _season_missing(count, place, season_days)
    return Cover(
        plant.plant_id, spacing, needed, full, season, _advice(season), COMMON_PRACTICE, missing
    )


def _floaters(
    plant: Plant,
    place: Place,
    count: int | None,
    planted_share: float | None,
    season_days: int | None,
    doubling_days: Range | None,
    area_m2: float | None,
) -> Cover:
    floater_m2 = coefficients()["floater_area"]
    needed, full, missing = _number(Range(floater_m2.low, floater_m2.high), count, area_m2)
    start = _start_share(floater_m2, place, count, planted_share)
    doubling, known = (
        doubling_days or plant.traits.doubling_days,
        BY_USER if doubling_days else known_range(plant, "doubling_days"),
    )
    season: tuple[SharePoint, ...] = ()
    if doubling is None:
        missing += (
            Missing(
                "doubling_days",
                "doubling time of the cover",
                "cover in the season",
                "published trials, or photograph the cover twice",
            ),
        )
    if start is None or season_days is None:
        missing += _season_missing(count if planted_share is None else 1, place, season_days)
    if start is not None and season_days is not None and doubling is not None:
        season = _logistic_season(start, doubling, season_days)
    return Cover(plant.plant_id, None, needed, full, season, _advice(season), known, missing)


def _logistic_season(start: Range, doubling: Range, season_days: int) -> tuple[SharePoint, ...]:
    slow, fast = growth_rate_per_day(doubling.high), growth_rate_per_day(doubling.low)
    days = sorted({round(season_days * step / _STEPS) for step in range(_STEPS + 1)})
    return tuple(
        SharePoint(
            day,
            Quantity(
                logistic_share(start.low, slow, day), logistic_share(start.high, fast, day), "share"
            ),
        )
        for day in days
    )


def _start_share(
    floater_m2: Coefficient, place: Place, count: int | None, planted_share: float | None
) -> Range | None:
    if planted_share is not None:
        return Range(planted_share, planted_share)
    if count is None or not place.area_m2:
        return None
    return Range(
        min(1.0, count * floater_m2.low / place.area_m2),
        min(1.0, count * floater_m2.high / place.area_m2),
    )


def _number(
    each_m2: Range, count: int | None, area_m2: float | None
) -> tuple[Quantity | None, Quantity | None, tuple[Missing, ...]]:
    """Plants needed for the area, and the share of it that the planned ones cover when grown."""
    if not area_m2:
        fact = Missing(
            "wanted_share", "area or share to be covered", "number of plants", "the planting plan"
        )
        return None, None, (fact,)
    needed = Quantity(
        math.ceil(area_m2 / each_m2.high - 1e-9), math.ceil(area_m2 / each_m2.low - 1e-9), "count"
    )
    if count is None:
        return needed, None, ()
    full = Quantity(
        min(1.0, count * each_m2.low / area_m2), min(1.0, count * each_m2.high / area_m2), "share"
    )
    return needed, full, ()


def _spacing(plant: Plant) -> Coefficient | None:
    if plant.traits.growth_form == "submerged":
        return coefficients()["spacing_submerged"]
    height = plant.traits.height_cm
    if height is None:
        return None
    if height.high > 90:
        return coefficients()["spacing_tall"]
    return coefficients()["spacing_low" if height.high <= 30 else "spacing_middling"]


def _leaf_spread_m2(plant: Plant) -> Range:
    """By the depth that the plant grows in; both sizes where that is not known."""
    small, large = coefficients()["leaf_spread_small"], coefficients()["leaf_spread_large"]
    depth = plant.traits.depth_cm
    if depth is None:
        return Range(small.low, large.high)
    size = large if depth.high >= coefficients()["large_leaf_depth"].value else small
    return Range(size.low, size.high)


def _season_missing(
    count: int | None, place: Place, season_days: int | None
) -> tuple[Missing, ...]:
    facts = [
        (
            count is None,
            Missing("count", "number of plants", "cover in the season", "the planting plan"),
        ),
        (
            not place.area_m2,
            Missing("place.area_m2", "area of the water surface", "cover in the season", "a map"),
        ),
        (
            season_days is None,
            Missing("season_days", "days of growth", "cover in the season", "days between frosts"),
        ),
    ]
    return tuple(fact for lacking, fact in facts if lacking)


def _advice(season: tuple[SharePoint, ...]) -> str:
    if not season:
        return ""
    end = season[-1].share
    least, most = coefficients()["cover_wanted_low"], coefficients()["cover_most"]
    if end.high > most.value:
        return (
            f"By the end of the season it may take {end.text()} of the surface; thin it so "
            "that a third stays open."
        )
    if end.high < least.value:
        return (
            f"By the end of the season it takes {end.text()} of the surface, less than the 40 "
            "to 60% that home ponds do well with."
        )
    return f"By the end of the season it takes {end.text()} of the surface; keep a third open."
