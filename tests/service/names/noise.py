"""The noise model of the accuracy table: what happens to a name between the catalogue and a label.

Every noise takes a random generator, so that a seed gives the same labels again. The model is
common practice, no
source: each noise is one thing that nursery lists do to names.
"""

import random
import string
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from service.names import NameKind, NameRecord

_LETTERS = string.ascii_lowercase + " "
_CODES = (
    '4"', '3.5" pot', "1 gal", "#5", "2 1/2 in", "SKU 48213", "$6.99", "25 ct", "bare root", "tray of 50", "P9", "x 12",
    '2-4"', "(6)", "live plant", "1 qt.", "WL-2041", "10cm", "2L", "Qty: 12", "€4,50", "3 gal pots", "pond plant",
)  # fmt: skip
_AUTHORS = (
    "L.",
    "Michx.",
    "(L.) Pursh",
    "Nutt. ex Engelm.",
    "(Vell.) Verdc.",
    "Mart. & Zucc.",
    "(Thunb.) Makino",
    "DC.",
    "Hook. f.",
)


@dataclass(frozen=True, slots=True)
class Named:
    """A name of the catalogue with what the noises need to know of it."""

    record: NameRecord
    authorship: str = ""
    common: str = ""

    @property
    def scientific(self) -> bool:
        kinds: tuple[NameKind, ...] = ("accepted", "synonym")
        return self.record.kind in kinds and "hybrids" not in self.record.name


Noise = Callable[[Named, random.Random], str | None]
"""Gives the label, or None where the noise does not apply to the name."""


def exact(named: Named, chance: random.Random) -> str:
    """The name as the catalogue spells it."""
    return named.record.name


def one_edit(named: Named, chance: random.Random) -> str:
    """One letter or blank replaced, dropped, put in or swapped with the next, wherever in the
    name.
    """
    return _edited(named.record.name, chance)


def two_edits(named: Named, chance: random.Random) -> str:
    """One edit, and one more on the result."""
    return _edited(_edited(named.record.name, chance), chance)


def other_case(named: Named, chance: random.Random) -> str:
    """All capitals, all small letters, or each word with a capital."""
    name = named.record.name
    return chance.choice((name.upper(), name.lower(), string.capwords(name)))


def accents(named: Named, chance: random.Random) -> str:
    """Accents on a third of the vowels, ligatures for ae and oe."""
    name = (
        named.record.name.replace("ae", "æ").replace("oe", "œ")
        if chance.random() < 0.5
        else named.record.name
    )
    marks = "\u0301\u0300\u0302\u0308"
    spelt = "".join(
        c + chance.choice(marks) if c in "aeiou" and chance.random() < 0.33 else c for c in name
    )
    return unicodedata.normalize("NFC", spelt)


def word_order(named: Named, chance: random.Random) -> str | None:
    """``hyacinth, water``; for a scientific name ``common (botanical)`` where the plant has a
    common name.
    """
    words = named.record.name.split(" ")
    if named.record.kind == "cultivar" or len(words) < 2:
        return None
    if named.scientific:
        return f"{named.common} ({named.record.name})" if named.common else None
    return f"{words[-1]}, {' '.join(words[:-1])}"


def size_codes(named: Named, chance: random.Random) -> str:
    """One or two sizes, pack codes, prices or sales words, before or after."""
    label = named.record.name
    for code in chance.sample(_CODES, chance.randint(1, 2)):
        label = f"{label} {code}" if chance.random() < 0.7 else f"{code} {label}"
    return label


def author_added(named: Named, chance: random.Random) -> str | None:
    """The authorship after a scientific name: its own where the catalogue has it, else any."""
    return (
        f"{named.record.name} {named.authorship or chance.choice(_AUTHORS)}"
        if named.scientific
        else None
    )


def all_together(named: Named, chance: random.Random) -> str:
    """One edit, then another case, then size codes."""
    edited = _edited(named.record.name, chance)
    recased = chance.choice((edited.upper(), edited.lower(), string.capwords(edited), edited))
    return f"{recased} {chance.choice(_CODES)}"


NOISES: Mapping[str, Noise] = {
    "exact": exact,
    "one edit": one_edit,
    "two edits": two_edits,
    "case": other_case,
    "accents": accents,
    "word order": word_order,
    "size codes": size_codes,
    "author added": author_added,
    "all together": all_together,
}


def letters(name: str) -> int:
    return sum(letter.isalpha() for letter in name)


def _edited(name: str, chance: random.Random) -> str:
    spots = [place for place, letter in enumerate(name) if letter.isalpha() or letter == " "]
    place = chance.choice(spots)
    kind = chance.choice(("replace", "drop", "insert", "swap"))
    if (
        kind == "swap"
        and place + 1 < len(name)
        and place + 1 in spots
        and name[place] != name[place + 1]
    ):
        return name[:place] + name[place + 1] + name[place] + name[place + 2 :]
    if kind == "drop":
        return name[:place] + name[place + 1 :]
    if kind == "insert":
        return name[:place] + chance.choice(_LETTERS) + name[place:]
    return (
        name[:place]
        + chance.choice([letter for letter in _LETTERS if letter != name[place].lower()])
        + name[place + 1 :]
    )
