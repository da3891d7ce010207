"""Labels that differ in size, count, code or price alone: ``Typha minima 4in`` and ``Typha minima
1 gal`` mean the same, so that only the first has to be worked out.
"""

from dataclasses import replace

from service.names.parser import parts_of
from service.names.tokens import Token, tokenize
from service.names.values import PartKind, Resolution
from service.values.kept import Kept

_KEPT = 20_000
"""Resolutions kept, some 2 kB each (measured)."""
_ASIDE: frozenset[PartKind | None] = frozenset({"size", "count", "sku", "price"})

_Before = tuple[object, ...]
"""The text before a size, and how it was cut into tokens."""


class SizesAside:
    """What labels mean, by the words before a size, count, code or price."""

    def __init__(self) -> None:
        self._kept: Kept[_Before, Resolution] = Kept(_KEPT)

    def known(self, label: str) -> Resolution | None:
        """The resolution of a label that another one tells; None where none does."""
        found = _split(label)
        if found is None:
            return None
        before, behind = found
        alike = self._kept.get(before)
        if alike is None:
            return None
        parts = [part for part in alike.parsed.parts if part.end <= behind[0].start]
        parsed = replace(
            alike.parsed, label=label, text=label, parts=(*parts, *parts_of(label, behind))
        )
        return replace(alike, label=label, parsed=parsed)

    def learn(self, resolution: Resolution) -> None:
        """Take up the resolution of a label, where it may tell others."""
        found = None if resolution.parsed.several else _split(resolution.label)
        if found is not None:
            self._kept.put(found[0], resolution)


def _split(label: str) -> tuple[_Before, list[Token]] | None:
    """What stands before the last sizes, and these; None where they might tell more than that."""
    # What is no ASCII, or has an ampersand, may be mended as a whole; a comma may invert a name.
    if not label.isascii() or "," in label or "&" in label:
        return None
    tokens = tokenize(label)
    count = len(tokens)
    while count and tokens[count - 1].part in _ASIDE:
        count -= 1
    if count in (0, len(tokens)):
        return None
    start = tokens[count].start
    return (label[:start], *[(token.kind, token.end) for token in tokens[:count]]), tokens[count:]
