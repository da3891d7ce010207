"""The surroundings of a site: a position and how far around it."""

from dataclasses import dataclass

from service.errors import BadRequest
from service.geography.geodesy import Box, search_boxes

MOST_KM = 40.0
"""A wider area belongs into a download of its watershed."""


@dataclass(frozen=True, slots=True)
class Around:
    """A position, WGS84 degrees, and the half width of a box around it in kilometres.

    Raises:
        BadRequest: not on the earth, or too wide.
    """

    longitude: float
    latitude: float
    within_km: float = 5.0

    def __post_init__(self) -> None:
        if not (-180 <= self.longitude <= 180 and -90 <= self.latitude <= 90):
            raise BadRequest(
                f"{self.longitude:g},{self.latitude:g} is not a position on the earth.",
                pointer="at",
                next_step="Write longitude first, as --at -89.40,43.07.",
            )
        if not 0 < self.within_km <= MOST_KM:
            raise BadRequest(
                f"The distance must be above 0 and at most {MOST_KM:g} km.",
                pointer="within_km",
                next_step="For a wider area, download its watershed and use `reedgate load`.",
            )

    @property
    def boxes(self) -> tuple[Box, ...]:
        """The box, cut in two where it crosses the antimeridian."""
        return search_boxes(self.longitude, self.latitude, self.within_km * 1000)

    @property
    def key(self) -> str:
        """Part of a file name: the same surroundings give the same."""
        return f"{self.longitude:.5f}_{self.latitude:.5f}_{self.within_km:g}km"
