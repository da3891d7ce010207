"""The order in which to see to the sites of a screening."""

from collections.abc import Sequence

from service.checks.community.values import (
    SITE_GROUPS,
    Priority,
    ScreenedPlanting,
    ScreenedSite,
    SiteGroup,
)
from service.values.vocabulary import JURISDICTION_NAMES
from service.values.words import percent

RANKING = (
    "Sites with a planting that the law found here bars come first, then those with one that needs "
    "a permit, then the others, and last the others for which no water is known. Within each group "
    "the likely chance decides that a plant that is not native gets out of the site to a water and "
    "stays, then the upper end of that chance, then the number of the site. What nobody knows puts "
    "no site above another."
)


def priorities(sites: Sequence[ScreenedSite]) -> tuple[Priority, ...]:
    """Every site with its rank and the planting that brings it there."""
    grouped = [(site, *_group(site)) for site in sites]
    ordered = sorted(
        grouped,
        key=lambda found: (
            SITE_GROUPS.index(found[1]),
            -(found[0].likely if found[0].likely is not None else -1.0),
            -found[0].escape.high if found[0].likely is not None else 0.0,
            found[0].number,
        ),
    )
    return tuple(
        Priority(
            rank,
            SITE_GROUPS.index(group) + 1,
            group,
            site.likely,
            site.number,
            site.name,
            lead.number,
            _why(site, group, lead),
        )
        for rank, (site, group, lead) in enumerate(ordered, start=1)
    )


def _group(site: ScreenedSite) -> tuple[SiteGroup, ScreenedPlanting]:
    """The group of a site and the planting that puts it there: the likeliest to escape of those
    that do.
    """
    for outcome, group in (("prohibited", "barred"), ("permit-required", "permit")):
        ruled = [planting for planting in site.plantings if planting.outcome == outcome]
        if ruled:
            return group, min(ruled, key=_likeliest)  # type: ignore[return-value]
    lead = min(site.plantings, key=_likeliest)
    return ("no-waters" if site.likely is None else "likely"), lead


def _likeliest(planting: ScreenedPlanting) -> tuple[bool, float, int]:
    chance = planting.escape.likely if planting.escape else 0.0
    return bool(planting.native), -chance, planting.number


def _why(site: ScreenedSite, group: SiteGroup, lead: ScreenedPlanting) -> str:
    mark = "" if lead.verified else " (unverified)"
    where = JURISDICTION_NAMES[site.state] if site.state else "the state"
    if group == "barred":
        said = f"{lead.label}: barred in {where}{mark}"
    elif group == "permit":
        said = f"{lead.label}: needs a permit in {where}{mark}"
    elif site.state is None:
        said = f"{lead.label}: state not known, no law looked up"
    elif lead.outcome in ("conditional", "undetermined") or not lead.resolution.confirmed:
        said = f"{lead.label}: ask first, law or name is open"
    elif lead.native:
        said = f"{lead.label}: native here"
    else:
        said = f"{lead.label}: no entry found"
    if site.likely is None:
        return f"{said}; no waters known, so no chance is given"
    if all(planting.native for planting in site.plantings):
        return f"{said}; nothing planted that is not native"
    return f"{said}; likely {percent(site.likely)} that something gets out and stays"
