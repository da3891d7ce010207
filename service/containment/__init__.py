"""Containment: which measures hold a plant in its place, and each measure as a computed design."""

from service.containment.plan import design, disposal
from service.containment.values import (
    BarrierSection,
    Check,
    ContainmentPlan,
    ContainmentRequest,
    CoverPart,
    Disposal,
    Figure,
    FreeboardSection,
    Held,
    IslandSection,
    Measure,
    RingSection,
    ScreenSection,
    Section,
    TubSection,
    Verdict,
    WayOut,
)

__all__ = [
    "BarrierSection",
    "Check",
    "ContainmentPlan",
    "ContainmentRequest",
    "CoverPart",
    "Disposal",
    "Figure",
    "FreeboardSection",
    "Held",
    "IslandSection",
    "Measure",
    "RingSection",
    "ScreenSection",
    "Section",
    "TubSection",
    "Verdict",
    "WayOut",
    "design",
    "disposal",
]
