"""Arrives: what has left the place comes to a water.

By water along the flow network where one leads there, by sheet flow of storm and flood water over
the ground, by creeping over the bank, carried by birds, beasts and people, or tipped out with
surplus. A longer way never raises it, nor does a lake passed; a longer travel scale never lowers
it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from service.escape.draws import Array, Draws
from service.escape.leaves import WATERBORNE
from service.escape.values import Propagule
from service.values.site import EscapeRoute, Reached


def network_loaded(waters: Sequence[Reached]) -> bool:
    """Whether a flow network says of some water that it lies up- or downstream, and so of the
    others that they do not.
    """
    return any(reached.relation in ("upstream", "downstream") for reached in waters)


@dataclass(frozen=True, eq=False)
class Ways:
    """How far each propagule comes by each route, worked out when first asked for.

    Attributes:
        waters: none is an unmapped one.
        network: whether a flow network is loaded; without one a near water may or may not lie
            downstream.
    """

    waters: tuple[Reached, ...]
    network: bool
    draws: Draws
    _kept: dict[tuple[str, str], Array] = field(default_factory=dict)

    def share(self, route: EscapeRoute, propagule: Propagule) -> Array:
        """Share of what left by the route that comes to each water; (waters, rows)."""
        if route == "surplus":
            return self._keep("given", "all", lambda: self._over("reach.given.all"))
        if route == "bank":
            return self._keep("creep", propagule, lambda: self._over(f"reach.creep.{propagule}"))
        if route == "birds-and-visitors":
            key = f"reach.carried.{propagule}"
            return self._keep("carried", propagule, lambda: self._over(key))
        return self._keep(route, propagule, lambda: self._by_water(route, propagule))

    def _keep(self, way: str, propagule: str, work: Callable[[], Array]) -> Array:
        key = (way, propagule)
        kept = self._kept.get(key)
        if kept is None:
            kept = self._kept[key] = work()
        return kept

    def _over(self, key: str) -> Array:
        scale = self.draws.of(key)
        found: Array = np.exp(-self._distances() / scale)
        return found

    def _distances(self) -> Array:
        """Over land, (waters, rows), or (waters, 1) where the waters are known."""
        if not self.waters:
            far, near = self.draws.parameters.span("reach.unmapped.all")[::-1]
            drawn = self.draws.ranged("waters", far, near, logarithmic=True)
            drawn[-3], drawn[-1] = np.inf, 0.0
            if self.draws.full:
                number = self.draws.count
                drawn[number : 2 * number], drawn[2 * number : 3 * number] = np.inf, 0.0
            return drawn[np.newaxis]
        return np.array([[reached.overland_m] for reached in self.waters])

    def _by_water(self, route: EscapeRoute, propagule: Propagule) -> Array:
        drifting = self._keep("drift", propagule, lambda: self._drift(propagule))
        if route == "outlet":
            return drifting
        sheet = self._keep(f"sheet {route}", "", lambda: self._over(f"reach.sheet.{route}"))
        return np.maximum(sheet, drifting)

    def _drift(self, propagule: Propagule) -> Array:
        draws = self.draws
        scale = draws.of(f"reach.drift.{propagule}")
        if not self.waters:
            return np.asarray(np.exp(-self._distances() / scale))
        along = np.array([[reached.distance_m] for reached in self.waters])
        drifting = np.exp(-along / scale)
        if any(reached.lakes_passed for reached in self.waters):
            drifting *= self._keep("lakes", "", self._lakes)
        downstream = np.array([[reached.relation == "downstream"] for reached in self.waters])
        mapped = np.array(
            [
                [reached.along_m is not None and reached.relation == "downstream"]
                for reached in self.waters
            ]
        )
        open_question = np.array(
            [[reached.relation == "near" and not self.network] for reached in self.waters]
        )
        may_be = open_question | (downstream & ~mapped)
        found: Array = np.where(downstream, drifting, 0.0)
        if may_be.any():
            open_way = draws.kept.of(
                "waters.network",
                lambda: draws.any_of("waters.network", (draws.known(0.0), draws.known(1.0))),
            )
            found = np.where(may_be, drifting * open_way, found)
        return found

    def _lakes(self) -> Array:
        """What the lakes on the way let through."""
        lakes = np.array([[float(reached.lakes_passed)] for reached in self.waters])
        passed: Array = self.draws.of("reach.still_water.passed") ** lakes
        return passed

    @property
    def open_questions(self) -> bool:
        """Whether it is not known how, or how far, a water lies from the place."""
        return not self.waters or any(
            (reached.relation == "near" and not self.network)
            or (reached.relation == "downstream" and reached.along_m is None)
            for reached in self.waters
        )


def travel_scale(route: EscapeRoute, propagule: Propagule, water: Reached) -> str:
    """Key of the coefficient that says how far a route takes a propagule."""
    if route == "surplus":
        return "reach.given.all"
    if route in WATERBORNE:
        if route != "outlet" and water.relation == "upstream":
            return f"reach.sheet.{route}"
        return f"reach.drift.{propagule}"
    return f"reach.creep.{propagule}" if route == "bank" else f"reach.carried.{propagule}"


def any_of(chances: Sequence[Array] | Array) -> Array:
    """Noisy-or."""
    missed = np.ones_like(chances[0])
    for chance in chances:
        missed *= 1.0 - chance
    return 1.0 - missed
