"""Reading scientific names in a row of tokens.

Grammar, after the ICN (Arts 20, 23, 24, H.1 to H.3, 46) and the ICNCP (Arts 14, 17, 21, 22)::

    [sign] Genus [sign] epithet [authorship] [mark epithet [authorship]]... [qualifier] ['cultivar']
"""

import re

from service.names.lexicon import (
    AUTHOR_PARTICLES,
    AUTHORS,
    COLOURS,
    CONNECTORS,
    DESCRIPTIVE,
    ENGLISH_NAME_WORDS,
    GENERA_IN_ENGLISH,
    OPEN_MARKS,
    QUALIFIERS,
    RANK_MARKS,
    SALES_WORDS,
    Lexicon,
)
from service.names.normal import fold
from service.names.tokens import Token
from service.names.values import ScientificName

_LATIN_ENDING = re.compile(r"(?:us|a|um|is|e|i|ae|ens|ans|or|ax|ix|ex|os|on|es|er|ops|ys|as|yx|oides|en|ar|ens|al|ma|ol|ir|ur|erix)$")
_ABBREVIATED_GENUS = re.compile(r"[^\W\d_][a-z]{0,3}\.")
_EPITHET = re.compile(r"[^\W\d_][^\W\d_'’-]*(?:-[^\W\d_]+)*")
_ATTACHED_SIGN = re.compile(r"[xX][b-df-hj-np-tv-z][a-z]+")
_NOT_NAMES = ENGLISH_NAME_WORDS | SALES_WORDS | COLOURS | DESCRIPTIVE | frozenset(CONNECTORS)


class NameReader:
    """Finds the scientific names in a label's tokens and marks the tokens with their parts."""

    def __init__(self, tokens: list[Token], lexicon: Lexicon | None) -> None:
        self.tokens = tokens
        self.lexicon = lexicon
        letters = "".join(token.text for token in tokens if token.kind == "word" and len(token.text) > 1)
        self.shouted = bool(letters) and letters.isupper()
        self.whispered = bool(letters) and letters.islower()

    def read(self) -> list[tuple[int, ScientificName]]:
        """The names, each with the place of its first token, in order."""
        self._join_author_brackets()
        found: list[tuple[int, ScientificName]] = []
        place = 0
        previous: tuple[int, ScientificName] | None = None
        while place < len(self.tokens):
            reading = self._name_at(place, previous)
            if reading is None:
                self._mark_connector(place)
                place += 1
                continue
            end, name = reading
            previous = (end, name)
            found.append((place, name))
            place = end
        return found

    # Names ----------------------------------------------------------------------------------------------------------

    def _name_at(self, place: int, previous: tuple[int, ScientificName] | None) -> tuple[int, ScientificName] | None:
        signed = self._is_sign(place)
        first = place + 1 if signed else place
        if signed and previous and previous[0] == place:
            return self._formula_member(place, previous[1])
        if not self._is_word(first) or self.tokens[first].part:
            return None
        token = self.tokens[first]
        attached = self._attached_sign(token) and self.lexicon is not None and not self._known_genus(token)
        genus = fold(token.text.rstrip(".")) if not attached else fold(token.text[1:])
        abbreviated = bool(_ABBREVIATED_GENUS.fullmatch(token.text)) or self._bare_initial(first)
        if not self._begins_name(first, genus, abbreviated, signed):
            return None
        if signed:
            self.tokens[place].part = "hybrid-sign"
        token.part = "genus"
        builder = _Builder(genus.capitalize(), abbreviated, notho="genus" if signed or attached else "")
        end = self._after_genus(first + 1, builder)
        return end, builder.build()

    def _formula_member(self, place: int, previous: ScientificName) -> tuple[int, ScientificName] | None:
        """The name after a hybrid sign that follows a name: a full one, ``S. caprea``, or an epithet alone."""
        reading = self._name_at(place + 1, None)
        if reading:
            self.tokens[place].part = "hybrid-sign"
            end, name = reading
            if name.abbreviated and previous.genus.startswith(name.genus):
                name = _with_genus(name, previous.genus)
            return end, name
        if previous.species and self._is_epithet(place + 1, fold(previous.genus)):
            self.tokens[place].part = "hybrid-sign"
            builder = _Builder(previous.genus, False)
            builder.species = fold(self.tokens[place + 1].text)
            self.tokens[place + 1].part = "species"
            return self._after_species(place + 2, builder), builder.build()
        return None

    def _begins_name(self, place: int, genus: str, abbreviated: bool, signed: bool) -> bool:
        token = self.tokens[place]
        follower = self._follower(place + 1)
        if abbreviated:
            return follower is not None and self._is_epithet(follower, "", strict=True)
        if token.text.endswith(".") or len(genus) < 3:
            return False
        known = self.lexicon is not None and self.lexicon.is_genus(genus)
        if follower is None:
            return known and self._is_alone(place) and token.text[:1].isupper()
        if known:
            return (
                self._is_epithet(follower, genus)
                or self._opens(follower)
                or self._quoted(follower)
                or self._qualifies(follower)
                or (signed and self._is_alone(place))
            )
        if genus in _NOT_NAMES and genus in GENERA_IN_ENGLISH and self._is_epithet(follower, genus):
            return token.text[:1].isupper() or self.whispered
        if genus in _NOT_NAMES or RANK_MARKS.get(genus) or genus in AUTHOR_PARTICLES:
            return False
        capital = token.text[:1].isupper() and (self.shouted or not token.text.isupper())
        if self._opens(follower):
            return capital
        if self._quoted(follower):
            return capital and bool(_LATIN_ENDING.search(genus))
        epithet = fold(self.tokens[follower].text)
        if self.lexicon is not None and self.lexicon.has_epithet("", epithet) and not self._is_plain_english(epithet):
            return bool(_LATIN_ENDING.search(genus))
        if self.shouted or self.whispered:
            return bool(_LATIN_ENDING.search(genus)) and self.lexicon is None and self._is_epithet(follower, "")
        return capital and self.tokens[follower].text[:1].islower() and self._is_epithet(follower, "")

    def _after_genus(self, place: int, builder: "_Builder") -> int:
        place = self._take_authors(place, builder) if not self._is_epithet(place, fold(builder.genus)) else place
        place = self._take_qualifiers(place, builder)
        if self._opens(place):
            self.tokens[place].part = "open"
            builder.open_nomenclature = True
            return self._take_qualifiers(place + 1, builder)
        genus = "" if builder.abbreviated else fold(builder.genus)
        if self._is_sign(place) and self._is_epithet(place + 1, genus):
            self.tokens[place].part = "hybrid-sign"
            builder.notho = "species"
            place += 1
        elif self._is_word(place) and self._attached_epithet(place, genus):
            builder.notho = "species"
            builder.species = fold(self.tokens[place].text[1:])
            self.tokens[place].part = "species"
            return self._after_species(place + 1, builder)
        if not self._is_epithet(place, genus):
            return self._take_tail(place, builder)
        builder.species = fold(self.tokens[place].text.rstrip("."))
        self.tokens[place].part = "species"
        return self._after_species(place + 1, builder)

    def _after_species(self, place: int, builder: "_Builder") -> int:
        while True:
            place = self._take_authors(place, builder)
            before = place
            place = self._take_qualifiers(place, builder)
            place = self._take_infraspecific(place, builder)
            if place == before:
                return self._take_tail(place, builder)

    def _take_infraspecific(self, place: int, builder: "_Builder") -> int:
        if not self._is_word(place) or self.tokens[place].part:
            return place
        word = fold(self.tokens[place].text).rstrip(".")
        mark = RANK_MARKS.get(word)
        target = place + 1
        if mark:
            if self._is_sign(target):
                builder.notho = "infraspecific"
                target += 1
            if not self._is_epithet(target, "", after_mark=True):
                return place
            if word.startswith(("notho", "nssp", "nvar")):
                builder.notho = "infraspecific"
            for marked in range(place, target):
                self.tokens[marked].part = "rank" if self._is_word(marked) and marked == place else "hybrid-sign"
            builder.infraspecific.append((mark, fold(self.tokens[target].text.rstrip("."))))
            self.tokens[target].part = "infraspecific"
            return target + 1
        known = self.lexicon is not None and self.lexicon.has_epithet(fold(builder.genus), word)
        latin = self.tokens[place].text.islower() and not self.whispered and bool(_LATIN_ENDING.search(word))
        if (known or latin) and self._is_epithet(place, fold(builder.genus)):
            builder.infraspecific.append(("", word))
            self.tokens[place].part = "infraspecific"
            return place + 1
        return place

    def _take_tail(self, place: int, builder: "_Builder") -> int:
        """A Group, trade designation or cultivar epithet after the name."""
        genus = fold(builder.genus)
        if place < len(self.tokens) and self.tokens[place].part == "cultivar":
            builder.cultivar = self.tokens[place].inner
            return place + 1
        end = place
        while end < len(self.tokens) and end - place < 4 and self._is_word(end) and self.tokens[end].part is None:
            end += 1
        for stop in range(end, place, -1):
            words = [token.text for token in self.tokens[place:stop]]
            joined = " ".join(words)
            if words[-1].rstrip(".") in ("Group", "Gp", "Grp", "Gruppe", "Grex", "GROUP") and len(words) > 1:
                self._mark(place, stop, "group")
                return stop
            if not self.shouted and all(w.isupper() and len(w) > 2 and not w.endswith(".") for w in words):
                self._mark(place, stop, "trade-designation")
                return stop
            if self.lexicon is not None and self.lexicon.is_cultivar(genus, joined):
                self._mark(place, stop, "cultivar")
                self.tokens[place].inner = builder.cultivar = joined
                for token in self.tokens[place + 1 : stop]:
                    token.inner = joined
                return stop
        return place

    # Authorship and qualifiers --------------------------------------------------------------------------------------

    def _join_author_brackets(self) -> None:
        """``(L.)`` in an authorship is one token and breaks nothing."""
        place = 0
        while place < len(self.tokens):
            if self.tokens[place].kind == "open" and place and self._is_word(place - 1):
                end = next((p for p in range(place + 1, len(self.tokens)) if self.tokens[p].kind == "close"), None)
                if end and end > place + 1 and all(self._authorlike(p) for p in range(place + 1, end)):
                    first, last = self.tokens[place], self.tokens[end]
                    gaps = [t.text for t in self.tokens[place : end + 1]]
                    joined = Token("fixed", "".join(gaps), first.start, last.end, "author")
                    self.tokens[place : end + 1] = [joined]
            place += 1

    def _authorlike(self, place: int, *, strict: bool = False) -> bool:
        token = self.tokens[place]
        if token.kind == "separator":
            return token.text in "&,"
        if token.kind != "word":
            return False
        word = fold(token.text).rstrip(".")
        if word in AUTHOR_PARTICLES and not strict:
            return True
        if not token.text[:1].isupper() and not self.whispered:
            return False
        if self.lexicon is not None and self.lexicon.is_author(word):
            return True
        if word in AUTHORS:
            return len(word) > 1 or not self.whispered
        return token.text.endswith(".") and token.text[:1].isupper() and word not in _NOT_NAMES

    def _take_authors(self, place: int, builder: "_Builder") -> int:
        start = place
        while place < len(self.tokens) and self._continues_authorship(place, started=place > start):
            self.tokens[place].part = "author"
            place += 1
        if place > start:
            builder.authors.append(" ".join(token.text for token in self.tokens[start:place]))
        return place

    def _continues_authorship(self, place: int, *, started: bool) -> bool:
        token = self.tokens[place]
        if token.part == "author":
            return True
        if token.part is not None:
            return False
        if token.kind == "separator" or (token.kind == "word" and fold(token.text).rstrip(".") in AUTHOR_PARTICLES):
            if token.kind == "separator" and token.text not in "&,":
                return False
            word = fold(token.text).rstrip(".")
            if word in ("f", "fil"):
                return started and not self._is_epithet(place + 1, "", after_mark=True)
            follower = place + 1
            if not started and word not in ("van", "von", "de", "du", "da", "ex", "hort"):
                return False
            return follower < len(self.tokens) and (
                self.tokens[follower].part == "author"
                or self._authorlike(follower, strict=True)
                or (token.text == "&" and self._surname(follower))
            )
        if self._authorlike(place, strict=True):
            return True
        if started and token.kind == "word":
            before = self.tokens[place - 1].text
            led = bool(_ABBREVIATED_GENUS.fullmatch(before)) or before.endswith(")") or before == "&"
            return led and self._surname(place)
        return False

    def _surname(self, place: int) -> bool:
        """A capitalised word that is no trade word and begins no name of its own."""
        token = self.tokens[place]
        word = fold(token.text)
        if token.kind != "word" or not token.text[:1].isupper() or self.shouted or word in _NOT_NAMES:
            return False
        return not self._known_genus(token) and not self._is_epithet(place + 1, "", strict=True)

    def _take_qualifiers(self, place: int, builder: "_Builder") -> int:
        while self._qualifies(place):
            start = place
            self.tokens[place].part = "qualifier"
            word = fold(self.tokens[place].text).rstrip(".")
            place += 1
            if word in ("sensu", "auct", "auctt", "auctorum", "non", "nec"):
                while place < len(self.tokens) and self.tokens[place].part is None and self._in_sensu(place):
                    self.tokens[place].part = "qualifier"
                    place += 1
            builder.qualifiers.append(" ".join(token.text for token in self.tokens[start:place]))
        return place

    def _in_sensu(self, place: int) -> bool:
        token = self.tokens[place]
        if token.kind == "mark":
            return True
        if token.kind == "separator":
            return token.text == "," and place + 1 < len(self.tokens) and self._in_sensu(place + 1)
        word = fold(token.text).rstrip(".")
        return token.kind == "word" and (word in QUALIFIERS or word in ("non", "nec", "americanorum") or self._authorlike(place))

    def _qualifies(self, place: int) -> bool:
        if place >= len(self.tokens) or self.tokens[place].part is not None:
            return False
        token = self.tokens[place]
        if token.kind == "mark" or token.text == "?":
            return True
        word = fold(token.text).rstrip(".")
        return token.kind == "word" and word in QUALIFIERS and (word not in ("near", "now") or token.text.islower())

    # Words ----------------------------------------------------------------------------------------------------------

    def _is_word(self, place: int) -> bool:
        return place < len(self.tokens) and self.tokens[place].kind == "word"

    def _is_sign(self, place: int) -> bool:
        if place >= len(self.tokens) or self.tokens[place].part is not None:
            return False
        token = self.tokens[place]
        return token.kind == "sign" or (token.kind == "word" and token.text in ("x", "X"))

    def _known_genus(self, token: Token) -> bool:
        return self.lexicon is not None and self.lexicon.is_genus(fold(token.text))

    def _attached_sign(self, token: Token) -> bool:
        return bool(_ATTACHED_SIGN.fullmatch(token.text)) and token.text[:1].islower()

    def _attached_epithet(self, place: int, genus: str) -> bool:
        token = self.tokens[place]
        if not _ATTACHED_SIGN.fullmatch(token.text) or token.part:
            return False
        if self.lexicon is not None and self.lexicon.has_epithet(genus, fold(token.text)):
            return False
        return bool(_LATIN_ENDING.search(token.text))

    def _bare_initial(self, place: int) -> bool:
        """``E crassipes``: an initial without its stop, before an epithet that the catalogue knows."""
        token = self.tokens[place]
        if self.lexicon is None or len(token.text) != 1 or not token.text.isupper() or token.text == "X":
            return False
        follower = place + 1
        return self._is_word(follower) and self.lexicon.has_epithet("", fold(self.tokens[follower].text))

    def _follower(self, place: int) -> int | None:
        """The next token that bears on whether a name begins here, past a sign, a qualifier and authors."""
        while place < len(self.tokens):
            token = self.tokens[place]
            if self._is_sign(place) or token.part == "author" or self._qualifies(place):
                if self._qualifies(place) and not self._is_word(place + 1):
                    return place
                place += 1
                continue
            return place if token.kind in ("word", "quoted", "cv") else None
        return None

    def _opens(self, place: int) -> bool:
        if not self._is_word(place) or self.tokens[place].part:
            return False
        word = fold(self.tokens[place].text).rstrip(".")
        if word == "ssp":
            return not self._is_epithet(place + 1, "", after_mark=True)
        return word in OPEN_MARKS

    def _quoted(self, place: int) -> bool:
        return self.tokens[place].kind in ("quoted", "cv")

    def _is_alone(self, place: int) -> bool:
        """Nothing but separators and fixed parts around: the word is the name."""
        before = self.tokens[place - 1] if place else None
        after = self.tokens[place + 1] if place + 1 < len(self.tokens) else None
        return (before is None or before.kind != "word") and (after is None or after.kind != "word")

    def _is_plain_english(self, word: str) -> bool:
        return word in _NOT_NAMES

    def _is_epithet(self, place: int, genus: str, *, strict: bool = False, after_mark: bool = False) -> bool:
        """Whether the word can be an epithet, of the genus where one is named."""
        if not self._is_word(place) or self.tokens[place].part:
            return False
        text = self.tokens[place].text
        word = fold(text)
        if self.lexicon is not None and self.lexicon.has_epithet(genus, word):
            return True
        bare = word.rstrip(".")
        if not _EPITHET.fullmatch(text) or len(bare) < 3 or "'" in word:
            return False
        if bare in RANK_MARKS or bare in OPEN_MARKS or bare in QUALIFIERS or bare in AUTHOR_PARTICLES:
            return False
        if word in _NOT_NAMES:
            return False
        if after_mark:
            return text[:1].islower() or self.shouted
        if text[:1].isupper() and not self.shouted:
            return False
        return bool(_LATIN_ENDING.search(word)) or (not strict and not self.whispered and genus != "")

    def _mark(self, start: int, end: int, part: str) -> None:
        for token in self.tokens[start:end]:
            token.part = part  # type: ignore[assignment]

    def _mark_connector(self, place: int) -> None:
        token = self.tokens[place]
        if token.part is None and token.kind == "word" and fold(token.text).rstrip(".") in CONNECTORS:
            token.part = "connector"
        elif token.kind == "separator" and token.text == "+":
            token.part = "graft-sign"


class _Builder:
    def __init__(self, genus: str, abbreviated: bool, notho: str = "") -> None:
        self.genus = genus
        self.abbreviated = abbreviated
        self.notho = notho
        self.species = ""
        self.infraspecific: list[tuple[str, str]] = []
        self.authors: list[str] = []
        self.qualifiers: list[str] = []
        self.open_nomenclature = False
        self.cultivar = ""

    def build(self) -> ScientificName:
        return ScientificName(
            genus=self.genus,
            species=self.species,
            infraspecific=tuple(self.infraspecific),
            authorship=" ".join(self.authors),
            abbreviated=self.abbreviated,
            notho=self.notho,  # type: ignore[arg-type]
            qualifier=" ".join(self.qualifiers),
            open_nomenclature=self.open_nomenclature,
            cultivar=self.cultivar,
        )


def _with_genus(name: ScientificName, genus: str) -> ScientificName:
    return ScientificName(
        genus, name.species, name.infraspecific, name.authorship, False, name.notho, name.qualifier,
        name.open_nomenclature, name.cultivar,
    )  # fmt: skip
