"""Every water that the sites of a screening reach, with what could come to it."""

from collections.abc import Mapping, Sequence

from shapely.geometry.base import BaseGeometry

from service.checks.community.values import Community, ScreenedSite, ScreenedWater, Sender
from service.escape import any_estimate, escape_class
from service.values.site import Water
from service.values.vocabulary import WaterId


def screened_waters(
    community: Community,
    sites: Sequence[ScreenedSite],
    waters: Mapping[WaterId, tuple[Water, BaseGeometry | None]],
) -> tuple[ScreenedWater, ...]:
    """The waters, the most threatened first; those of the document also where nothing reaches them.

    Args:
        waters: every one that a site reaches, with its shape.
    """
    senders: dict[WaterId, list[Sender]] = {water.water.water_id: [] for water in community.waters}
    for site in sites:
        for planting in site.plantings:
            for chance in planting.waters:
                sender = Sender(
                    site.number,
                    planting.number,
                    site.name,
                    planting.name,
                    planting.native,
                    chance.relation,
                    chance.distance_m,
                    chance.estimate,
                )
                senders.setdefault(chance.water_id, []).append(sender)
    shared = {water.water.water_id for water in community.waters}
    found = []
    for water_id, several in senders.items():
        water, shape = waters[water_id]
        whole = any_estimate(sender.estimate for sender in several)
        ordered = sorted(
            several,
            key=lambda sender: (
                -sender.estimate.likely,
                -sender.estimate.high,
                sender.site,
                sender.planting,
            ),
        )
        elsewhere = any_estimate(sender.estimate for sender in several if not sender.native)
        found.append(
            ScreenedWater(
                water,
                shape,
                water_id in shared,
                whole,
                elsewhere,
                escape_class(elsewhere),
                tuple(ordered),
                community.given_of_waters.get(water_id, {}),
            )
        )
    return tuple(
        sorted(
            found,
            key=lambda water: (
                -water.not_native.likely,
                -water.estimate.likely,
                water.water.name,
                water.water.water_id,
            ),
        )
    )
