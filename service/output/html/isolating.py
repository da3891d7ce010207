"""Text that people write in a report, kept apart from its surroundings (Unicode UAX 9): a label in
Arabic or Hebrew, or with a direction mark left open, does not turn the words about it.
"""

import re
import unicodedata
from collections.abc import Iterable

from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

_TURNING = frozenset(
    {"R", "AL", "AN", "RLE", "LRE", "RLO", "LRO", "PDF", "RLI", "LRI", "FSI", "PDI"}
)
_IN_CONTEXT = "isolate"


class Isolator:
    """Marks the texts that could turn their surroundings, wherever they stand."""

    def __init__(self, texts: Iterable[str]) -> None:
        turning = sorted({text for text in texts if turns(text)}, key=len, reverse=True)
        self._pattern = re.compile("|".join(map(re.escape, turning))) if turning else None

    def __call__(self, text: str) -> str | Markup:
        """The text with each of them in ``bdi``; a text that turns and has none of them is put in
        ``bdi`` as a whole.
        """
        if not turns(text):
            return text
        if self._pattern is None or not self._pattern.search(text):
            return Markup("<bdi>{}</bdi>").format(text)
        parts, at = [], 0
        for found in self._pattern.finditer(text):
            parts += [escape(text[at : found.start()]), Markup("<bdi>{}</bdi>").format(found[0])]
            at = found.end()
        return Markup("").join([*parts, escape(text[at:])])


def turns(text: str) -> bool:
    """Whether a text has a character that is written from right to left, or that sets a
    direction.
    """
    if text.isascii():
        return False
    return any(unicodedata.bidirectional(letter) in _TURNING for letter in text)


@pass_context
def isolated(context: Context, value: object) -> object:
    """Every text that a template writes out, where its context has an ``isolate``."""
    isolate = context.get(_IN_CONTEXT)
    if isolate is None or not isinstance(value, str) or isinstance(value, Markup):
        return value
    return isolate(value)
