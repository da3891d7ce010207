"""A flowline while it is being loaded, and a link between two of them."""

from dataclasses import dataclass
from typing import Literal

from data_loaders.geography.hydrography import FeatureClass

How = Literal["flow-table", "nodes", "sequence", "downstream-id", "end-points", "across"]
Position = tuple[float, float]
"""Longitude and latitude, WGS84 degrees."""


@dataclass(slots=True)
class Line:
    """One flowline. Identifiers carry the data set before a colon.

    Attributes:
        start, end: in the direction in which the line was drawn.
        directed: False where the data set says that the direction of flow is not known.
        divergence: 2 for the lesser branch of a divergence, 1 for the main one, 0 for none.
        through_hint: identifier of the water that the data set says the line runs through.
    """

    flowline_id: str
    part_id: int
    source_id: str
    feature: FeatureClass
    code: str
    start: Position
    end: Position
    length_m: float
    name: str = ""
    gnis_id: str = ""
    order: int | None = None
    directed: bool = True
    divergence: int = 0
    mainstem: str = ""
    through_hint: str = ""
    through_id: str | None = None
    from_node: str = ""
    to_node: str = ""
    sequence: str = ""
    down_sequence: str = ""
    downstream_id: str = ""


@dataclass(frozen=True, slots=True)
class FlowLink:
    """Water runs from one line to another; ``gap_m`` across a still water without a line of its
    own.
    """

    from_id: str
    to_id: str
    how: How
    source_id: str
    main: bool = True
    gap_m: float = 0.0
    through_id: str | None = None
