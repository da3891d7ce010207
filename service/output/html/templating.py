"""The templates of the page and the report, their citations, and text that people wrote.

Everything put into one is escaped unless it is markup made here.
"""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

from service.output import words
from service.values.quantities import Quantity
from service.values.words import distance, joined

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


_FILTERS = {
    "as_text": escape,
    "begin": words.begun,
    "first_office": words.first_office,
    "in_short": words.in_short,
    "in_unit": words.in_unit,
    "place_letters": words.place_letters,
    "percent_or_none": words.percent_or_none,
    "yes_no": words.yes_no,
    "acts": words.acts_in_words,
    "contained": words.contained,
    "distance": distance,
    "joined": joined,
    "likely": words.likely,
    "percent": words.percent,
    "place_name": words.place_name,
    "relation": words.relation,
    "safe_address": words.safe_address,
    "sureness": words.sureness,
    "water_name": words.water_name,
}
_VOCABULARIES = {
    "OUTCOMES": words.OUTCOMES,
    "OUTCOME_MEANINGS": words.OUTCOME_MEANINGS,
    "KNOWN": words.KNOWN,
    "KNOWN_SHORT": words.KNOWN_SHORT,
    "SITE_GROUPS": words.SITE_GROUPS,
    "VERDICTS": words.VERDICTS,
    "FITS": words.FITS,
    "ROUTES": words.ROUTES,
    "HOLDINGS": words.HOLDINGS,
    "ROLES": words.ROLES,
    "COVERAGES": words.COVERAGES,
    "KINDS": words.KINDS,
}


@cache
def templates() -> Environment:
    """The environment, made once. A name that a template asks for and is not given is an error."""
    environment = Environment(
        loader=PackageLoader("service.output.html", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=isolated,
    )
    environment.filters |= _FILTERS
    environment.globals |= _VOCABULARIES
    environment.filters["quantity"] = _quantity
    return environment


def _quantity(value: Quantity) -> str:
    return value.text()
