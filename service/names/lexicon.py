"""Words that labels carry around a plant's name, read from ``words.toml``, and what a catalogue
knows about words.
"""

import tomllib
from importlib.resources import files
from typing import Final, Protocol


class Lexicon(Protocol):
    """What the catalogue knows about single words, asked with folded text."""

    def is_genus(self, word: str) -> bool:
        """Whether the word is a genus name, of an accepted name or of a synonym."""

    def has_epithet(self, genus: str, epithet: str) -> bool:
        """Whether the genus has a name with this epithet; any genus when ``genus`` is empty."""

    def is_cultivar(self, genus: str, text: str) -> bool:
        """Whether the genus has a cultivar of this epithet."""

    def is_author(self, word: str) -> bool:
        """Whether the word is in the authorship of a name."""

    def is_common(self, form: str) -> bool:
        """Whether this is the vernacular form of a name."""


def _inverted(spellings: dict[str, str]) -> dict[str, str]:
    return {spelling: meaning for meaning, words in spellings.items() for spelling in words.split()}


_FILE = tomllib.loads(files(__package__).joinpath("words.toml").read_text(encoding="utf-8"))
_WORDS: dict[str, frozenset[str]] = {
    topic: frozenset(words.split()) for topic, words in _FILE["words"].items()
}

RANK_MARKS: Final = _inverted(_FILE["rank_marks"])
"""Spellings without full stop -> the mark as written."""

CONNECTORS: Final = _inverted(_FILE["connectors"])
"""Word between two names -> ``several`` plants or the ``same``."""

AUTHOR_PARTICLES: Final = _WORDS["author_particles"]
OPEN_MARKS: Final = _WORDS["open_marks"]
QUALIFIERS: Final = _WORDS["qualifiers"]
SALES_WORDS: Final = _WORDS["sales"] | _WORDS["combinations"]
COMBINATIONS: Final = _WORDS["combinations"]
GOODS: Final = _WORDS["goods"]
GOODS_LAST: Final = _WORDS["goods_last"]
LIVING: Final = _WORDS["living"]
COLOURS: Final = _WORDS["colours"]
DESCRIPTIVE: Final = _WORDS["descriptive"]
ENGLISH_NAME_WORDS: Final = _WORDS["english_names"]
GENERA_IN_ENGLISH: Final = _WORDS["genera_in_english"]
AUTHORS: Final = _WORDS["authors"]
GROUP_WORDS: Final = frozenset({"group", "gp", "grp", "gruppe", "grex"})
SALES_PHRASES: Final = frozenset(tuple(phrase.split()) for phrase in _FILE["phrases"]["sales"])

OTHER_PLANTS: Final = tuple(_FILE["phrases"]["other_plants"])
"""Names of garden plants that are like those of water plants."""

NOT_NAMES: Final = (
    ENGLISH_NAME_WORDS | SALES_WORDS | COLOURS | DESCRIPTIVE | GOODS | frozenset(CONNECTORS)
)
"""Words that are neither a genus nor an epithet."""

STRICT_SENSE: Final = frozenset({"s.s", "s.str", "sensustricto"})
"""Qualifiers, without blanks and final stop, that cast no doubt on the taxon."""
