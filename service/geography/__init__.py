"""Where a site is and where its water goes: counties, distances, hardiness zones, the downstream
trace. Pure values.

table.find(state, "St. Louis County")             a county by name or FIPS code
interval_of("6b")                                 the temperatures of a hardiness zone
trace(network, starts)                            what lies down the water

Distances are in ``service.geography.geodesy``, imported from there: it loads the coordinate
libraries, which an answer about a county alone does without.
"""

from service.geography.counties import STATE_BY_FIPS, County, CountyTable
from service.geography.hardiness import (
    HALF_ZONES,
    ZoneInterval,
    half_zone_at,
    half_zone_at_c,
    interval_of,
    parse_zone,
)
from service.geography.place import BORDER_TOLERANCE_M, Location, NearState, Watershed
from service.geography.trace import (
    Ending,
    FlowNetwork,
    Start,
    StateReached,
    Trace,
    TracedLine,
    WaterPassed,
    trace,
)

__all__ = [
    "BORDER_TOLERANCE_M",
    "HALF_ZONES",
    "STATE_BY_FIPS",
    "County",
    "CountyTable",
    "Ending",
    "FlowNetwork",
    "Location",
    "NearState",
    "Start",
    "StateReached",
    "Trace",
    "TracedLine",
    "WaterPassed",
    "Watershed",
    "ZoneInterval",
    "half_zone_at",
    "half_zone_at_c",
    "interval_of",
    "parse_zone",
    "trace",
]
