"""Numbered citations that resolve both ways: each number leads to its source, each source back
to every place that cites it.
"""

from collections import defaultdict
from collections.abc import Iterable

from markupsafe import Markup


class Citing:
    """Hands out the marks in the order in which the document sets them.

    One document, one ``Citing``.
    """

    def __init__(self) -> None:
        self._places: defaultdict[int, list[str]] = defaultdict(list)

    def mark(self, numbers: int | Iterable[int]) -> Markup:
        """The marks for one or more sources, empty for none."""
        wanted = [numbers] if isinstance(numbers, int) else list(dict.fromkeys(numbers))
        if not wanted:
            return Markup("")
        return Markup('<span class="cites">{}</span>').format(
            Markup(" ").join(self._one(number) for number in wanted)
        )

    def places(self, number: int) -> tuple[str, ...]:
        """Ids of the places that cite a source, in order; only those marked so far."""
        return tuple(self._places[number])

    def _one(self, number: int) -> Markup:
        place = f"cite-{number}-{len(self._places[number]) + 1}"
        self._places[number].append(place)
        return Markup(
            '<a class="cite" id="{}" href="#source-{}" aria-label="Source {}">[{}]</a>'
        ).format(place, number, number, number)
