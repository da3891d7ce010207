"""A place, its climate and its waters, worked out once for all the plants of a plan."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.escape.interval import CERTAIN, Interval
from service.escape.parameters import Parameters
from service.escape.reach import BANK, OUTLET, network_loaded, reach, unmapped_reach
from service.escape.release import ROUTES, Array, Opening, openings, stand_size
from service.values.site import Climate, ExitRoute, Place
from service.values.vocabulary import WaterId
from service.values.waters import Reached

UNMAPPED = WaterId("")


@dataclass(frozen=True, slots=True)
class Setting:
    """What the plants of one place have in common.

    Attributes:
        network: whether a flow network is loaded.
        reach: (2, waters, routes, propagules); one unmapped water where none is given.
        within: (waters,), whether the place lies in the water.
        opening: (2, waters, routes).
        stand: (2,).
    """

    place: Place
    climate: Climate
    waters: tuple[Reached, ...]
    network: bool
    parameters: Parameters
    openings: Mapping[ExitRoute, Opening]
    stand_size: Interval
    reach: Array
    within: Array
    opening: Array
    stand: Array

    @property
    def water_ids(self) -> tuple[WaterId, ...]:
        return tuple(reached.water.water_id for reached in self.waters) or (UNMAPPED,)

    def elsewhere(self, place: Place) -> "Setting":
        """The same waters and climate, another place."""
        ways = openings(place, self.parameters)
        size = stand_size(place.area_m2, self.parameters)
        return replace(
            self,
            place=place,
            openings=ways,
            stand_size=size,
            opening=_opening_array(ways, self.within),
            stand=_pair(size),
        )

    def in_climate(self, climate: Climate) -> "Setting":
        """The same place and waters, another climate."""
        return replace(self, climate=climate)


def setting(
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    parameters: Parameters,
    *,
    network: bool | None = None,
) -> Setting:
    """Work out a setting.

    Args:
        network: whether a flow network is loaded; None reads it off the waters.
    """
    loaded = network_loaded(waters) if network is None else network
    tables = [reach(reached, loaded, parameters) for reached in waters] or [
        unmapped_reach(parameters)
    ]
    within = np.array(
        [reached.relation == "contains" for reached in waters] or [False], dtype=float
    )
    ways = openings(place, parameters)
    size = stand_size(place.area_m2, parameters)
    return Setting(
        place=place,
        climate=climate,
        waters=tuple(waters),
        network=loaded,
        parameters=parameters,
        openings=ways,
        stand_size=size,
        reach=np.stack(tables, axis=1),
        within=within,
        opening=_opening_array(ways, within),
        stand=_pair(size),
    )


def _opening_array(ways: Mapping[ExitRoute, Opening], within: Array) -> Array:
    """(2, waters, routes); a planting that stands in the water itself is open to it by water and
    by ground.
    """
    ends = np.array([_pair(ways[route].interval) for route in ROUTES]).T
    table = np.repeat(ends[:, np.newaxis, :], len(within), axis=1)
    if within.any():
        inside = within > 0
        for route in (OUTLET, BANK):
            table[:, inside, route] = CERTAIN.low
    return table


def _pair(interval: Interval) -> Array:
    return np.array((interval.low, interval.high))


def to_interval(ends: Iterable[float]) -> Interval:
    """An interval from its two ends."""
    low, high = ends
    return Interval(float(low), float(high))
