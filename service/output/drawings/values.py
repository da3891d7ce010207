"""A finished drawing."""

from dataclasses import dataclass

from markupsafe import Markup


@dataclass(frozen=True, slots=True)
class Drawing:
    """One drawing.

    Attributes:
        svg: inline SVG with a title and a description.
        caption: what it shows and at what scale.
        words: its dimensions in words, for who cannot see it.
    """

    svg: Markup
    caption: str
    words: str
