"""Questions about the tokens of a label: is this a sign, can this be an epithet, does this look
like an author.
"""

import re

from service.names.lexicon import (
    AUTHOR_PARTICLES,
    AUTHORS,
    GENERA_IN_ENGLISH,
    NOT_NAMES,
    OPEN_MARKS,
    QUALIFIERS,
    RANK_MARKS,
    SALES_WORDS,
    Lexicon,
)
from service.names.tokens import Token
from service.names.values import PartKind

LATIN_ENDING = re.compile(
    r"(?:us|a|um|is|e|i|ae|ens|ans|ar|or|ir|ur|er|ax|ix|ex|yx|os|on|en|es|as|ys|ops|al|ol)$"
)
ABBREVIATION = re.compile(r"[^\W\d_][a-z]{0,3}\.")
_EPITHET = re.compile(r"[^\W\d_][^\W\d_'’-]*(?:-[^\W\d_]+)*")
_ATTACHED_SIGN = re.compile(r"x[b-df-hj-np-tv-z][a-z]{2,}")

_SHORT_WORD_LETTERS = 4
"""A word of no more letters is an epithet only where its form or the catalogue says so: ``Iris net
pot`` has none."""


class TokenRow:
    """The tokens of one label with the catalogue's lexicon, where there is one.

    ``all_capitals`` and ``all_small`` say of what letters the label is: there the case
    tells nothing.
    """

    def __init__(self, tokens: list[Token], lexicon: Lexicon | None) -> None:
        self.tokens = tokens
        self.lexicon = lexicon
        words = [token for token in tokens if token.kind == "word" and len(token.text) > 1]
        named = [token for token in words if token.word not in SALES_WORDS] or words
        letters = "".join([token.text for token in named])
        self.all_capitals = bool(letters) and letters.isupper()
        self.all_small = bool(letters) and letters.islower()

    def __len__(self) -> int:
        return len(self.tokens)

    def word(self, place: int) -> str:
        """The token folded, without its full stop."""
        return self.tokens[place].word

    def mark(self, start: int, end: int, part: PartKind) -> None:
        for token in self.tokens[start:end]:
            token.part = part

    def is_word(self, place: int) -> bool:
        return place < len(self.tokens) and self.tokens[place].kind == "word"

    def is_free_word(self, place: int) -> bool:
        """A word that no part has taken yet."""
        return self.is_word(place) and self.tokens[place].part is None

    def is_sign(self, place: int) -> bool:
        """The hybrid sign, the letter x in its place (ICN Rec.

        H.3A.2), or the mark of a letter that was lost.
        """
        if place >= len(self.tokens) or self.tokens[place].part is not None:
            return False
        token = self.tokens[place]
        return token.kind == "sign" or (token.kind == "word" and token.text in ("x", "X"))

    def is_quoted(self, place: int) -> bool:
        return self.tokens[place].kind in ("quoted", "cv")

    def is_alone(self, place: int) -> bool:
        """No word stands beside it."""
        return not (place and self.is_word(place - 1)) and not self.is_word(place + 1)

    def opens(self, place: int) -> bool:
        """``sp.``, ``spp.``; ``ssp.`` only where no epithet follows."""
        if not self.is_free_word(place):
            return False
        if self.word(place) == "ssp":
            return not self.is_epithet(place + 1, "", after_mark=True)
        return self.word(place) in OPEN_MARKS

    def qualifies(self, place: int) -> bool:
        """``cf.``, ``aff.``, ``sensu``, ``auct.``, ``s.l.``, ``?``."""
        if place >= len(self.tokens) or self.tokens[place].part is not None:
            return False
        token = self.tokens[place]
        return (
            token.kind == "mark"
            or token.text == "?"
            or (token.kind == "word" and self.word(place) in QUALIFIERS)
        )

    def knows_genus(self, word: str) -> bool:
        return self.lexicon is not None and self.lexicon.is_genus(word)

    def knows_epithet(self, genus: str, epithet: str) -> bool:
        return self.lexicon is not None and self.lexicon.has_epithet(genus, epithet)

    def attached_sign(self, place: int) -> bool:
        """``xglauca``: an x that no Latin word begins with before a consonant."""
        token = self.tokens[place]
        if token.kind != "word" or token.part or token.text[:1] not in "xX":
            return False
        return bool(
            _ATTACHED_SIGN.fullmatch(f"x{token.text[1:]}") and LATIN_ENDING.search(token.text)
        )

    def is_epithet(
        self, place: int, genus: str, *, strict: bool = False, after_mark: bool = False
    ) -> bool:
        """Whether the word can be an epithet.

        Args:
            genus: folded, or empty when it is not known.
            strict: only words of Latin form.
            after_mark: a rank mark stands before it.
        """
        if not self.is_free_word(place):
            return False
        text, word = self.tokens[place].text, self.word(place)
        if self.knows_epithet(genus, word):
            return True
        if (
            genus
            and word not in NOT_NAMES
            and not self.knows_genus(genus)
            and self.knows_epithet("", word)
        ):
            return True
        if (
            not _EPITHET.fullmatch(text)
            or len(word) < 3
            or (word in NOT_NAMES and word not in GENERA_IN_ENGLISH)
        ):
            return False
        if (
            word in RANK_MARKS
            or word in OPEN_MARKS
            or word in QUALIFIERS
            or word in AUTHOR_PARTICLES
        ):
            return False
        if after_mark and self.word(place - 1) not in ("f", "fil"):
            return not text.endswith(".")
        if text[:1].isupper() and not self.all_capitals:
            return False
        return (
            after_mark
            or bool(LATIN_ENDING.search(word))
            or (
                genus != ""
                and not strict
                and not self.all_small
                and len(word) > _SHORT_WORD_LETTERS
            )
        )

    def is_particle(self, place: int) -> bool:
        """``ex``, ``in``, ``von``: in small letters, in an authorship."""
        return (
            self.is_word(place)
            and self.word(place) in AUTHOR_PARTICLES
            and not self.tokens[place].text[:1].isupper()
        )

    def is_initial(self, place: int) -> bool:
        """``A.``"""
        text = self.tokens[place].text
        return self.is_word(place) and len(text) == 2 and text[0].isupper() and text[1] == "."

    def is_authorlike(self, place: int, *, alone: bool = False) -> bool:
        """Whether the token can stand in an authorship (ICN Arts 46, 49); ``alone`` leaves
        particles out.
        """
        token = self.tokens[place]
        if token.kind == "separator":
            return not alone and token.text in "&,"
        if token.kind != "word":
            return False
        if self.is_particle(place):
            return not alone
        word = self.word(place)
        if self.is_initial(place):
            return True
        if place and self.is_initial(place - 1) and self.tokens[place - 1].end == token.start:
            return True
        if word in RANK_MARKS:
            return False
        if not token.text[:1].isupper() and not (self.all_small and len(word) > 1):
            return False
        if word in AUTHORS or (self.lexicon is not None and self.lexicon.is_author(word)):
            return word not in NOT_NAMES or token.text.endswith(".")
        return token.text.endswith(".") and token.text[:1].isupper() and word not in NOT_NAMES

    def is_surname(self, place: int) -> bool:
        """A capitalised word that is not a trade word and does not begin a name of its own."""
        if (
            not self.is_word(place)
            or self.all_capitals
            or not self.tokens[place].text[:1].isupper()
        ):
            return False
        word = self.word(place)
        return (
            word not in NOT_NAMES
            and not self.knows_genus(word)
            and not self.is_epithet(place + 1, "", strict=True)
        )

    def joins_authors(self, place: int) -> bool:
        """``Funck ex Hoppe``: a surname, and a word or sign that leads to another author."""
        if not self.is_surname(place) or place + 2 >= len(self):
            return False
        joint = self.tokens[place + 1]
        joined = joint.text == "&" or self.word(place + 1) in ("ex", "in", "et")
        return joined and (self.is_authorlike(place + 2, alone=True) or self.is_surname(place + 2))
