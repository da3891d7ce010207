"""What occurrence records say: where an introduced plant is, climate and habitat suit it.

A record lifts the fit of climate and habitat toward the best that the plant's traits allow, by how
near it is and how old. It never lifts ``high``, which allows for a good fit already, so records
never widen an answer. That nobody has recorded the plant lowers nothing: what was never planted
cannot be found. Of a native plant, records say nothing of escape.
"""

import math

from service.escape.parameters import Parameters
from service.escape.values import AlreadyHere
from service.values.evidence import RING_RADII_M, Evidence, Presence
from service.values.words import distance


def lift(presence: Presence, parameters: Parameters) -> float:
    """How far the records lift the fit; 0 where there are none."""
    near = [parameters.value("presence.water")] if presence.in_water else []
    if presence.ring is not None:  # a wider ring holds the records of the narrower ones
        rings = range(presence.ring, len(RING_RADII_M))
        near += [parameters.value(f"presence.ring-{number + 1}") for number in rings]
    return max(near, default=0.0) * _age_weight(presence.latest_year, parameters)


def _age_weight(latest_year: int | None, parameters: Parameters) -> float:
    years = parameters.value("presence_age.unstated")
    if latest_year is not None:
        years = float(max(0, RECORDS_AS_OF - latest_year))
    return math.exp(-years / parameters.value("presence_age.years"))


RECORDS_AS_OF = 2026
"""Year that ages of records are counted from; fixed, so that the same request gives the same
answer in every year.
"""


def already_here(evidence: Evidence | None) -> AlreadyHere | None:
    """Records around the site in words; None where there are none."""
    if evidence is None or not evidence.loaded:
        return None
    records = max(
        [ring.plant_records for ring in evidence.rings]
        + [there.plant_records for there in evidence.waters],
        default=0,
    )
    if records == 0:
        return None
    parts = ["already here"]
    if evidence.nearest_m is not None:
        parts.append(distance(evidence.nearest_m))
    parts.append(
        "year not stated" if evidence.latest_year is None else f"last seen {evidence.latest_year}"
    )
    return AlreadyHere(evidence.nearest_m, evidence.latest_year, records, ", ".join(parts))
