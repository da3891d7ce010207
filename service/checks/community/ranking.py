"""The order in which to see to the sites of a screening."""

from collections.abc import Sequence

from service.checks.community.values import Priority, ScreenedPlanting, ScreenedSite

RANKING = (
    "Sites with a planting that the law found here bars, or allows with a permit alone, come "
    "first; then sites with a planting that is not "
    "known as native to the region and whose likely chance of escape is high; then "
    "those with a planting whose law is open (a "
    "condition, a gap, or a name not confirmed); then those with a chance of escape that is "
    "moderate, or high for a native plant; then the "
    "rest. Within a tier the likely chance that anything at all gets out of the site decides, "
    "then its number."
)

_WHY = {
    1: "{name}: {outcome}{mark}",
    2: "{name}: chance of escape high, likely {likely:.0%} in ten years",
    3: "{name}: {open}",
    4: "{name}: chance of escape {klass}{native}, likely {likely:.0%} in ten years",
    5: "{name}: nothing stricter was found",
}


def priorities(sites: Sequence[ScreenedSite]) -> tuple[Priority, ...]:
    """Every site with its rank and the planting that brings it there."""
    leads = [(site, min(site.plantings, key=_place)) for site in sites]
    ordered = sorted(
        leads,
        key=lambda pair: (
            tier(pair[1]),
            -pair[0].escape.likely,
            -pair[0].escape.high,
            pair[0].number,
        ),
    )
    return tuple(
        Priority(rank, tier(lead), site.number, site.name, lead.number, _why(lead))
        for rank, (site, lead) in enumerate(ordered, start=1)
    )


def tier(planting: ScreenedPlanting) -> int:
    """1 to 5, as the ranking says."""
    if planting.outcome in ("prohibited", "permit-required"):
        return 1
    if planting.escape_class == "high" and not planting.native:
        return 2
    if (
        planting.outcome in (None, "conditional", "undetermined")
        or not planting.resolution.confirmed
    ):
        return 3
    return 5 if planting.escape_class in (None, "low") else 4


def _place(planting: ScreenedPlanting) -> tuple[int, float, int]:
    return tier(planting), -(planting.escape.likely if planting.escape else 0.0), planting.number


def _why(planting: ScreenedPlanting) -> str:
    escape = planting.escape
    open_law = planting.outcome in ("conditional", "undetermined")
    return _WHY[tier(planting)].format(
        name=planting.name,
        outcome=planting.outcome,
        klass=planting.escape_class,
        native=" (native to the region)" if planting.native else "",
        mark="" if planting.verified else ", unverified",
        likely=escape.likely if escape else 0.0,
        open=planting.outcome
        if open_law
        else "name not confirmed"
        if planting.outcome
        else "state not known",
    )
