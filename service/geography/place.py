"""Where a position lies: state, county, neighbours, hardiness zone, watershed, each with how it is known."""

from dataclasses import dataclass

from service.vocabulary import Jurisdiction


@dataclass(frozen=True, slots=True)
class NearState:
    """A state and its nearest position to a point; ``distance_m`` is 0 inside it."""

    state: Jurisdiction
    distance_m: float
    longitude: float
    latitude: float
