"""Containment to scale: sections and plans as inline SVG, dimensions in SI and US customary
units.
"""

from service.containment import (
    BarrierSection,
    FreeboardSection,
    IslandSection,
    RingSection,
    ScreenSection,
    Section,
    TubSection,
)
from service.output.drawings.floating import island, ring
from service.output.drawings.outlet import rim, screen
from service.output.drawings.sheet import Drawing
from service.output.drawings.vessels import barrier, tub

__all__ = ["Drawing", "draw"]


def draw(section: Section, *, key: str, title: str) -> tuple[Drawing, ...]:
    """The drawings of one measure.

    Args:
        key: begins every id of the drawings, so that a document can hold many.
        title: of the measure, for who cannot see it.
    """
    match section:
        case TubSection():
            return (tub(section, key, title),)
        case BarrierSection():
            return (barrier(section, key, title),)
        case IslandSection():
            return island(section, key, title)
        case RingSection():
            return ring(section, key, title)
        case ScreenSection():
            return screen(section, key, title)
        case FreeboardSection():
            return (rim(section, key, title),)
