"""A place, its climate and its waters, worked out once for all the plants of a plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from service.escape.arrives import Ways, network_loaded
from service.escape.draws import Array, Draws, Kept, draws
from service.escape.leaves import Opening, openings, stand_size
from service.escape.parameters import Parameters
from service.values.plants import Traits
from service.values.site import Climate, EscapeRoute, Place, Reached
from service.values.vocabulary import Flow, Jurisdiction, WaterId, WaterKind

UNMAPPED, UNMAPPED_NAME = WaterId(""), "a water that no map shows"
_MOST_KEPT = 400


@dataclass(frozen=True, eq=False)
class Setting:
    """What the plants of one place have in common.

    Attributes:
        state: of the site, where it is known.
        openings: each way out, row by row.
        stand: (rows,), how reliably the stand sheds.
        ways: how far each propagule comes by each route.
        within: (waters,), whether the place lies in the water.
        kept: what the plants that spread alike share.
    """

    place: Place
    climate: Climate
    waters: tuple[Reached, ...]
    state: Jurisdiction | None
    draws: Draws
    openings: Mapping[EscapeRoute, Opening]
    stand: Array
    ways: Ways
    within: Array
    kept: Kept = field(default_factory=lambda: Kept(_MOST_KEPT))
    _full: list["Setting"] = field(default_factory=list)

    @property
    def parameters(self) -> Parameters:
        """The coefficients behind it."""
        return self.draws.parameters

    @property
    def water_ids(self) -> tuple[WaterId, ...]:
        """In the order asked; one unmapped water where none is given."""
        return tuple(reached.water.water_id for reached in self.waters) or (UNMAPPED,)

    @cached_property
    def kinds(self) -> tuple[list[tuple[WaterKind | None, Flow | None]], NDArray[np.intp]]:
        """Each kind of water with its flow, and which of them each water is."""
        several = [(reached.water.kind, reached.water.flow) for reached in self.waters]
        kinds: list[tuple[WaterKind | None, Flow | None]] = [*dict.fromkeys(several)]
        if not kinds:
            kinds = [(None, None)]
        return kinds, np.array([kinds.index(kind) for kind in several] or [0])

    def for_plant(self, traits: Traits) -> "Setting":
        """The setting with rows for unknown facts, where the plant or the place has any."""
        if self.draws.full or not _open_traits(traits):
            return self
        if not self._full:
            full = draws(self.parameters, full=True)
            self._full.append(setting_in(self.place, self.climate, self.waters, self.state, full))
        return self._full[0]


def setting(
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    state: Jurisdiction | None,
    parameters: Parameters,
) -> Setting:
    """Work out a setting."""
    full = _open_place(place) or _open_climate(climate) or _open_waters(waters)
    return setting_in(place, climate, tuple(waters), state, draws(parameters, full=full))


def setting_in(
    place: Place,
    climate: Climate,
    waters: tuple[Reached, ...],
    state: Jurisdiction | None,
    sampled: Draws,
) -> Setting:
    """A setting on rows that are given."""
    within = np.array([reached.relation == "contains" for reached in waters] or [False])
    return Setting(
        place=place,
        climate=climate,
        waters=waters,
        state=state,
        draws=sampled,
        openings=sampled.kept.of(
            ("openings", replace(place, name="")), lambda: openings(place, sampled)
        ),
        stand=stand_size(place.area_m2, sampled),
        ways=Ways(waters, network_loaded(waters), sampled),
        within=within,
    )


def _open_place(place: Place) -> bool:
    facts: list[object] = [place.overflow, place.flood_prone, place.visited, place.surplus]
    facts.append(place.area_m2)
    if place.kind != "stream":
        facts.append(place.bank_contact)
        outlet_open = not place.outlet_flow_l_s and (
            place.outlet is None or (place.outlet and place.outlet_flow_l_s is None)
        )
        lined_open = place.lined is None and place.bank_contact is not False
        if outlet_open or lined_open:
            return True
    return any(fact is None for fact in facts)


def _open_climate(climate: Climate) -> bool:
    cold_unknown = climate.hardiness_zone is None and climate.extreme_minimum_c is None
    return cold_unknown or climate.first_frost is None


def _open_waters(waters: Sequence[Reached]) -> bool:
    return Ways(tuple(waters), network_loaded(waters), _NO_DRAWS).open_questions


_NO_DRAWS = Draws(Parameters({}, {}), False, lambda _: np.zeros(0), lambda _: np.zeros(0))


def _open_traits(traits: Traits) -> bool:
    """Whether a fact of the plant that the model reads is not known."""
    needed = (
        traits.zone_min,
        traits.zone_max,
        traits.native_north_america,
        traits.spread_rate,
        traits.growth_form,
        traits.height_cm,
        traits.history,
    )
    return (
        any(fact is None for fact in needed)
        or traits.frost_kill in (None, "unknown")
        or not (traits.flow and traits.light and traits.spread_modes)
        or (traits.depth_cm is None and traits.growth_form != "free-floating")
    )
