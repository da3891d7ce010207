"""What leaves a place and where it comes, the same for all plants that spread alike."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.escape.arrives import Ways, any_of
from service.escape.draws import Array, Draws
from service.escape.leaves import ROUTES, WATERBORNE, carried, made, seed_left
from service.escape.percentiles import percentiles
from service.escape.setting import Setting
from service.escape.values import PlannedMeasure, Propagule
from service.values.plants import Traits
from service.values.site import EscapeRoute

_TIE = 1e-6


@dataclass(frozen=True, slots=True)
class Strongest:
    """What brings most to each water: half way through all ranges, then at their worst.

    Attributes:
        route: by water; None where nothing can come.
        propagule: by route and water; None where nothing travels.
    """

    route: tuple[EscapeRoute | None, ...]
    propagule: dict[EscapeRoute, tuple[Propagule | None, ...]]


@dataclass(frozen=True, eq=False)
class Spread:
    """Leaves and arrives. It holds no setting, which holds it: a circle keeps its memory for long.

    Attributes:
        away: chance that each propagule leaves by each way that is open, (rows,).
        leaves_by, leaves: by each route, (routes, rows), and by any, (rows,).
        arrives_by: (routes, waters, rows); 1 for a water that the place lies in.
        arrives: (waters, rows), by any route.
    """

    draws: Draws
    ways: Ways
    away: Mapping[EscapeRoute, Mapping[Propagule, Array]]
    leaves_by: Array
    leaves: Array
    arrives_by: Array
    arrives: Array

    @cached_property
    def figures(self) -> Array:
        """Of leaves, then of arrives by water, as ``percentiles`` has them."""
        return percentiles([self.leaves, self.arrives], self.draws)

    @cached_property
    def route_figures(self) -> Array:
        """Of leaves by route, then of arrives by route and water."""
        flat = self.arrives_by.reshape(-1, self.arrives_by.shape[-1])
        return percentiles([self.leaves_by, flat], self.draws)

    @cached_property
    def strongest(self) -> Strongest:
        """The route, and on each route the propagule, that bring most to each water."""
        number = len(self.arrives)
        propagule: dict[EscapeRoute, tuple[Propagule | None, ...]] = {}
        arriving = np.zeros((len(ROUTES), number))
        for r, route in enumerate(ROUTES):
            kinds = tuple(self.away[route])
            if not kinds:
                propagule[route] = (None,) * number
                continue
            shares = np.stack(
                [self.ways.share(route, kind)[:, -1] * self.away[route][kind][-1] for kind in kinds]
            )
            best, some = shares.argmax(axis=0).tolist(), (shares.max(axis=0) > 0.0).tolist()
            propagule[route] = tuple(
                kinds[k] if any_at_all else None for k, any_at_all in zip(best, some, strict=True)
            )
            by_water = self.arrives_by[r]
            arriving[r] = (by_water[:, -2] + _TIE * by_water[:, -1]) * np.array(some)
        most = arriving.argmax(axis=0).tolist()
        none = (arriving.max(axis=0) <= 0.0).tolist()
        return Strongest(
            tuple(None if no else ROUTES[r] for r, no in zip(most, none, strict=True)), propagule
        )


def spread(traits: Traits, measures: tuple[PlannedMeasure, ...], setting: Setting) -> Spread:
    """Of a plant with what is planned to keep it in."""
    pieces = made(traits)
    key: Hashable = (
        pieces,
        seed_left(traits) if "seed" in pieces else None,
        traits.growth_form == "submerged" and bool(measures),
        measures,
    )
    return setting.kept.of(key, lambda: _spread(traits, measures, setting))


def _spread(traits: Traits, measures: tuple[PlannedMeasure, ...], setting: Setting) -> Spread:
    away, draws = carried(traits, measures, setting.draws), setting.draws
    number = len(setting.within)
    leaves_by = np.empty((len(ROUTES), draws.rows))
    arrives_by = np.empty((len(ROUTES), number, draws.rows))
    for r, (route, by_propagule) in enumerate(away.items()):
        opening = setting.openings[route].chance
        several = [
            _not(route, propagule, chance, traits, measures, setting)
            for propagule, chance in by_propagule.items()
        ]
        for found, some in ((leaves_by[r], 0), (arrives_by[r], 1)):
            found[...] = several[0][some] if several else 1.0
            for one in several[1:]:
                found *= one[some]
            np.subtract(1.0, found, out=found)
            found *= opening
    inside = setting.within
    leaves = draws.known(1.0) if inside.any() else any_of(leaves_by)
    arrives = any_of(arrives_by)
    arrives[inside] = 1.0  # what stands in the water itself has left already
    return Spread(draws, setting.ways, away, leaves_by, leaves, arrives_by, arrives)


def _not(
    route: EscapeRoute,
    propagule: Propagule,
    chance: Array,
    traits: Traits,
    measures: tuple[PlannedMeasure, ...],
    setting: Setting,
) -> tuple[Array, Array]:
    """A propagule does not leave by an open way, (rows,); and does not come by it to each water,
    (waters, rows).
    """
    uncredited = (
        propagule == "fragment" and route in WATERBORNE and traits.growth_form == "submerged"
    )
    key: Hashable = (
        route,
        propagule,
        seed_left(traits) if propagule == "seed" else None,
        () if uncredited else measures,
    )

    def work() -> tuple[Array, Array]:
        shed = chance * setting.stand
        reaches = shed * setting.ways.share(route, propagule)
        return 1.0 - shed, np.subtract(1.0, reaches, out=reaches)

    return setting.kept.of(key, work)
