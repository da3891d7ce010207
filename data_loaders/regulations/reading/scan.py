"""Scientific names in running text: where they stand, and in what words.

Reads full names, names of abbreviated genus, ``spp.``, hybrids by sign or by formula, names with
authors and infraspecific ranks, names in capitals, and names broken over lines or hyphenated.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from data_loaders.regulations.reading.vocabulary import (
    ENGLISH,
    LATIN_EPITHET,
    LATIN_GENUS,
    Vocabulary,
)
from service.names import fold

Sort = Literal["species", "genus", "open", "hybrid"]
"""``open`` is a genus with ``spp.`` or the like; ``genus`` a genus alone."""

_TOKEN = re.compile(r"[^\W\d_]+(?:[-’'][^\W\d_]+)*\.?|[×✕]|\d+|[^\w\s]")
_RANK_MARKS = {
    "subsp": "subsp.", "ssp": "subsp.", "var": "var.", "f": "f.", "forma": "f.",
    "nothosubsp": "subsp.",
}  # fmt: skip
_OPEN = frozenset({"spp", "sp", "species", "genus"})
_SIGNS = frozenset({"×", "✕", "x", "X"})
_AUTHOR_PARTS = frozenset(
    {"ex", "f", "de", "van", "von", "in", "et", "non", "nom", "cons", "emend", "auct"}
)
_MOST_AUTHOR_TOKENS = 14


@dataclass(frozen=True, slots=True)
class Token:
    text: str
    start: int
    end: int

    @property
    def word(self) -> str:
        return self.text.rstrip(".")


@dataclass(frozen=True, slots=True)
class Found:
    """A scientific name in a text.

    Attributes:
        name: as a name is written, genus in full, one blank between words: ``Typha × glauca``.
        printed: as the text has it, on one line.
        start, end: where in the text it stands, authors not counted.
        known: the store or the list has it, letter by letter.
    """

    name: str
    printed: str
    start: int
    end: int
    sort: Sort
    known: bool


@dataclass
class GenusContext:
    """Genera met so far, for abbreviations; those of headings count first."""

    met: list[str] = field(default_factory=list)
    heading: str = ""

    def add(self, genus: str) -> None:
        if genus in self.met:
            self.met.remove(genus)
        self.met.append(genus)

    def expand(self, short: str, epithet: str, vocabulary: Vocabulary) -> str | None:
        """The genus that an abbreviation stands for here."""
        letters = short.rstrip(".")
        if self.heading.startswith(letters) and self.heading:
            return self.heading
        fitting = [genus for genus in reversed(self.met) if genus.startswith(letters)]
        for genus in fitting:
            if vocabulary.knows(genus, epithet):
                return genus
        for genus in fitting:
            if vocabulary.is_near_epithet(genus, epithet):
                return genus
        return fitting[0] if fitting else None


def unhyphenated(text: str, vocabulary: Vocabulary) -> str:
    """Words that a line end has broken, in one piece; a hyphen that belongs to a name stays."""

    def join(match: re.Match[str]) -> str:
        first, second = match.group(1), match.group(2)
        whole, kept = fold(first + second), fold(f"{first}-{second}")
        if whole in vocabulary.all_epithets or whole in vocabulary.genera:
            return first + second
        if kept in vocabulary.all_epithets or first.isdigit():
            return f"{first}-{second}"
        return first + second

    return re.sub(r"([^\W\d_]+)[-‐]\n([^\W\d_]+)", join, text)


def tokens_of(text: str) -> list[Token]:
    return [Token(token.group(), token.start(), token.end()) for token in _TOKEN.finditer(text)]


def scan(
    text: str,
    vocabulary: Vocabulary,
    genera: GenusContext,
    *,
    italic: frozenset[str] = frozenset(),
    trusted: bool = False,
) -> list[Found]:
    """The scientific names of a text, in order.

    Args:
        italic: pieces of it that are set in italics.
        trusted: the text is where a list has its names (an item, a Latin column), so that an
            unknown name is believed at its beginning.
    """
    return list(_Scanner(text, vocabulary, genera, italic, trusted).run())


class _Scanner:
    def __init__(
        self,
        text: str,
        vocabulary: Vocabulary,
        genera: GenusContext,
        italic: frozenset[str],
        trusted: bool,
    ) -> None:
        self.text = text
        self.tokens = tokens_of(text)
        self.vocabulary = vocabulary
        self.genera = genera
        self.italic = italic
        self.trusted = trusted
        self.last_end = -1
        letters = [letter for letter in text if letter.isalpha()]
        self.shouted = bool(letters) and sum(letter.isupper() for letter in letters) > 0.9 * len(
            letters
        )

    def run(self) -> Iterator[Found]:
        place = 0
        while place < len(self.tokens):
            reading = self._name_at(place)
            if reading is None:
                place += 1
                continue
            place, found = reading
            self.last_end = found.end
            yield found

    def _name_at(self, place: int) -> tuple[int, Found] | None:
        signed = self._is_sign(place)
        first = place + 1 if signed else place
        if first >= len(self.tokens):
            return None
        token = self.tokens[first]
        if re.fullmatch(r"[A-Z][a-z]{0,2}\.", token.text):
            return self._abbreviated(first)
        if not self._may_be_genus(token):
            return None
        return self._after_genus(place, first, _titled(token.word), token.text.endswith("."))

    def _may_be_genus(self, token: Token) -> bool:
        word = token.word
        if len(word) < 3 or not word[0].isupper() or "'" in word or "’" in word:
            return False
        if word[1:].islower():
            return True
        return word.isupper() and (self.shouted or self.vocabulary.is_genus(word))

    def _abbreviated(self, first: int) -> tuple[int, Found] | None:
        token = self.tokens[first]
        place = first + 1
        signed = self._is_sign(place)
        place += signed
        epithet = self._word(place)
        if epithet is None or not epithet.islower() or len(epithet) < 3 or epithet in ENGLISH:
            return None
        genus = self.genera.expand(token.text, epithet, self.vocabulary)
        if genus is None or not self._believable(genus, epithet):
            return None
        return self._rest(first, genus, epithet, place + 1, signed=signed)

    def _believable(self, genus: str, epithet: str) -> bool:
        """Whether a word after a genus in full may be an epithet."""
        if self.vocabulary.knows(genus, epithet):
            return True
        word = fold(epithet)
        if word in ENGLISH or len(word) < 3:
            return False
        if self.vocabulary.is_near_epithet(genus, word):
            return True
        return bool(LATIN_EPITHET.search(word)) and word not in self.vocabulary.common_words

    def _after_genus(
        self, start: int, first: int, genus: str, ended: bool
    ) -> tuple[int, Found] | None:
        known = self.vocabulary.is_genus(genus)
        place = first + 1
        if ended:
            return None
        word = self._word(place)
        if word is not None and fold(word) in _OPEN and (known or fold(word) != "species"):
            return self._open(start, first, genus, place, known)
        signed = self._is_sign(place) and self._word(place + 1) is not None
        epithet = self._word(place + 1 if signed else place)
        after = place + 2 if signed else place + 1
        if epithet is None or not self._is_epithet_shaped(epithet, signed or start < first):
            return self._genus_alone(start, first, genus) if known else None
        if known and self._believable(genus, epithet):
            return self._rest(start, genus, epithet.lower(), after, signed=signed or start < first)
        if not known and self._is_unknown_name(start, after, genus, epithet):
            return self._rest(start, genus, epithet.lower(), after, signed=signed or start < first)
        return self._genus_alone(start, first, genus) if known else None

    def _is_epithet_shaped(self, word: str, signed: bool) -> bool:
        if len(word) < 3 or "'" in word or "’" in word:
            return False
        return (
            word.islower()
            or (self.shouted and word.isupper())
            or (word.isupper() and len(word) > 4)
        )

    def _is_unknown_name(self, start: int, after: int, genus: str, epithet: str) -> bool:
        """Whether two words that nobody knows are a name all the same."""
        one, other = fold(genus), fold(epithet)
        if (
            one in ENGLISH
            or other in ENGLISH
            or other.endswith("ies")
            or self.vocabulary.is_genus(other)
        ):
            return False
        if self.vocabulary.near_genus(one, other):
            return True
        if other in self.vocabulary.common_words or one in self.vocabulary.common_words:
            return False
        if not LATIN_GENUS.search(one) or not LATIN_EPITHET.search(other):
            return False
        if len(one) < 4 or len(other) < 4:
            return False
        printed = self.text[self.tokens[start].start : self.tokens[after - 1].end]
        if any(" ".join(printed.split()) in italic for italic in self.italic):
            return True
        before = self.text[: self.tokens[start].start].rstrip()
        following = self.text[self.tokens[after - 1].end :].lstrip()
        bracketed = before.endswith("(") and following[:1] in ")[(;,"
        begins = self.trusted and (
            not re.search(r"[^\W\d_]{2}", before) or before[-1:] in "(;,|:-–—/"
        )
        listed = before[-1:] in ";,(:|" and following[:1] in ";,()|."
        joined = self.last_end >= 0 and re.fullmatch(
            r"\s*(?:or|and|,|=|\[=)\s*", self.text[self.last_end : self.tokens[start].start]
        )
        return bracketed or begins or listed or joined is not None

    def _open(
        self, start: int, first: int, genus: str, place: int, known: bool
    ) -> tuple[int, Found] | None:
        if not known and not (LATIN_GENUS.search(fold(genus)) and fold(genus) not in ENGLISH):
            return None
        if not known and not self.tokens[place].text.lower().startswith("spp"):
            return None
        self.genera.add(genus)
        return place + 1, self._found(f"{genus} spp.", start, place + 1, "open", known)

    def _genus_alone(self, start: int, first: int, genus: str) -> tuple[int, Found] | None:
        self.genera.add(genus)
        return first + 1, self._found(genus, start, first + 1, "genus", True)

    def _rest(
        self, start: int, genus: str, epithet: str, place: int, *, signed: bool
    ) -> tuple[int, Found]:
        self.genera.add(genus)
        name = f"{genus} × {epithet}" if signed else f"{genus} {epithet}"
        sort: Sort = "hybrid" if signed else "species"
        formula = self._formula(place, genus)
        if formula is not None:
            end, other = formula
            name, sort = f"{name} × {other}", "hybrid"
            return end, self._found(name, start, end, sort, self.vocabulary.knows(genus, epithet))
        end, below = self._below(place)
        name += below
        known = self.vocabulary.knows(genus, epithet)
        return end, self._found(name, start, end, sort, known)

    def _formula(self, place: int, genus: str) -> tuple[int, str] | None:
        """The second parent of a hybrid: a full name, an abbreviated one, or an epithet alone."""
        if not self._is_sign(place) or place + 1 >= len(self.tokens):
            return None
        token = self.tokens[place + 1]
        epithet = self._word(place + 2)
        if re.fullmatch(r"[A-Z][a-z]*\.", token.text) and epithet and genus.startswith(token.word):
            return place + 3, f"{genus} {epithet.lower()}"
        if (
            self.vocabulary.is_genus(token.word)
            and epithet
            and self._believable(token.word, epithet)
        ):
            return place + 3, f"{_titled(token.word)} {epithet.lower()}"
        if token.text.islower() and self._believable(genus, token.word):
            return place + 2, f"{genus} {token.word}"
        return None

    def _below(self, place: int) -> tuple[int, str]:
        """Subspecies, varieties and forms after a name, with authors between skipped."""
        end, said = place, ""
        look = place
        while look < min(len(self.tokens) - 1, end + _MOST_AUTHOR_TOKENS):
            token = self.tokens[look]
            mark = _RANK_MARKS.get(token.word.lower())
            following = self._word(look + 1)
            is_mark = mark is not None and (token.text.endswith(".") or token.word.lower() != "f")
            if is_mark and following is not None and self._follows_mark(following, mark or ""):
                said += f" {mark} {following.lower()}"
                end = look = look + 2
                continue
            if not self._is_author(token):
                break
            look += 1
        return end, said

    def _follows_mark(self, word: str, mark: str) -> bool:
        if len(word) < 4 or fold(word) in ENGLISH:
            return False
        # A list may give the epithet of a subspecies a capital; an author after "f." has one too.
        return (
            word.islower()
            or self.shouted
            or (mark != "f." and fold(word) in self.vocabulary.all_epithets)
        )

    def _is_author(self, token: Token) -> bool:
        if token.text in "().,&":
            return True
        return token.word in _AUTHOR_PARTS or token.text[:1].isupper()

    def _is_sign(self, place: int) -> bool:
        return place < len(self.tokens) and self.tokens[place].text in _SIGNS

    def _word(self, place: int) -> str | None:
        """The word at a place, where nothing but blanks stands before it."""
        if place >= len(self.tokens) or place < 1:
            return None
        token, before = self.tokens[place], self.tokens[place - 1]
        if self.text[before.end : token.start].strip() or not token.text[0].isalpha():
            return None
        return token.word

    def _found(self, name: str, start: int, end: int, sort: Sort, known: bool) -> Found:
        first, last = self.tokens[start].start, self.tokens[end - 1].end
        printed = " ".join(self.text[first:last].split())
        return Found(name, printed, first, last, sort, known)


def _titled(word: str) -> str:
    return word[:1].upper() + word[1:].lower()
