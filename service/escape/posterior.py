"""Occurrence records as evidence on whether the plant establishes in one water.

The chance that it establishes has a beta prior whose mean may lie anywhere in the interval from
traits and climate, with one fixed weight s (Walley's imprecise beta model). Each place looked at -
the water itself, the waters up- and
downstream, the rings around the site - adds n looks, k of them with the plant:

    effort  v = 1 - exp(-a / a0)         a records of any water plant; 0 where nobody has been share
    x = min(1, (p / a) / x0)     p records of the plant, corrected for effort by the share among all
    n = w v,  k = w v x                  w how much the place says of this water

and the posterior mean lies between (s low + k) / (s + n) and (s high + k) / (s + n). A place that
nobody has visited has v = 0 and changes nothing; absence from a place much visited counts against;
a further record of the plant never lowers the result, and evidence never widens it. The weights w
below one look discount records that count twice, in a ring and in a water.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.escape.interval import Interval
from service.escape.parameters import Parameters
from service.values.evidence import Evidence
from service.values.vocabulary import WaterId


@dataclass(frozen=True, slots=True)
class Looks:
    """Looks taken, and how many of them found the plant; ``0 <= found <= taken``."""

    taken: float
    found: float

    def __add__(self, other: "Looks") -> "Looks":
        return Looks(self.taken + other.taken, self.found + other.found)


NO_LOOKS = Looks(0.0, 0.0)


def updated(prior: Interval, looks: Looks, parameters: Parameters) -> Interval:
    """Posterior means over all priors whose mean lies in ``prior``."""
    weight = parameters.value("evidence.prior.weight")
    total = weight + looks.taken
    return Interval(
        (weight * prior.low + looks.found) / total,
        min(1.0, (weight * prior.high + looks.found) / total),
    )


def looks_at(
    water_ids: Sequence[WaterId], evidence: Evidence | None, parameters: Parameters
) -> tuple[Looks, ...]:
    """All looks that say something of each water."""
    if evidence is None or not evidence.loaded:
        return (NO_LOOKS,) * len(water_ids)
    around = _in_rings(evidence, parameters)
    own = {there.water_id: there for there in evidence.waters}
    linked = [there for there in evidence.waters if there.relation != "near"]
    plant = sum(there.plant_records for there in linked)
    every = sum(there.all_records for there in linked)
    found = []
    for water_id in water_ids:
        there = own.get(water_id)
        looks = around
        beside_plant, beside_every = plant, every
        if there is not None:
            looks += _look("water", there.plant_records, there.all_records, parameters)
            if there.relation != "near":
                beside_plant, beside_every = plant - there.plant_records, every - there.all_records
        found.append(looks + _look("network", beside_plant, beside_every, parameters))
    return tuple(found)


def _in_rings(evidence: Evidence, parameters: Parameters) -> Looks:
    looks = NO_LOOKS
    inner_plant = inner_all = 0
    for number, ring in enumerate(sorted(evidence.rings, key=lambda ring: ring.radius_m), start=1):
        key = f"ring-{min(number, 4)}"
        looks += _look(
            key, ring.plant_records - inner_plant, ring.all_records - inner_all, parameters
        )
        inner_plant, inner_all = ring.plant_records, ring.all_records
    return looks


def _look(place: str, plant_records: int, all_records: int, parameters: Parameters) -> Looks:
    """One place looked at.

    A record of the plant is itself a visit, so ``all_records`` is never taken as fewer.
    """
    plant_records = max(0, plant_records)
    all_records = max(plant_records, all_records)
    if all_records == 0:
        return NO_LOOKS
    weight = parameters.value(f"evidence.weight.{place}")
    effort = -math.expm1(-all_records / parameters.value("evidence.effort.records"))
    share = min(1.0, plant_records / all_records / parameters.value("evidence.share.full"))
    return Looks(weight * effort, weight * effort * share)


def counts(water_id: WaterId, evidence: Evidence) -> tuple[int, int]:
    """Records of the plant and of any water plant, in the water where it is known and else in
    the widest ring.
    """
    for there in evidence.waters:
        if there.water_id == water_id and there.all_records:
            return there.plant_records, there.all_records
    if not evidence.rings:
        return 0, 0
    widest = max(evidence.rings, key=lambda ring: ring.radius_m)
    return widest.plant_records, widest.all_records
