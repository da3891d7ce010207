"""Reading scientific names in a row of tokens.

Grammar, after the ICN (Arts 20, 23, 24, 46, 49, H.1 to H.3) and the ICNCP (cultivar epithets,
Groups, trade
designations, graft-chimaeras)::

    [sign] Genus [sign] epithet [authorship] [mark epithet [authorship]]... [qualifier] ['cultivar']
"""

from dataclasses import dataclass, field, replace
from typing import Literal

from service.names.authorship import join_author_brackets, take_authors, take_qualifiers
from service.names.lexicon import (
    AUTHOR_PARTICLES,
    CONNECTORS,
    GENERA_IN_ENGLISH,
    GROUP_WORDS,
    NOT_NAMES,
    RANK_MARKS,
    Lexicon,
)
from service.names.normal import fold, vernacular_form
from service.names.token_row import ABBREVIATION, LATIN_ENDING, TokenRow
from service.names.tokens import Token
from service.names.values import ScientificName

_MAX_TAIL_WORDS = 4


@dataclass(slots=True)
class _Draft:
    genus: str
    abbreviated: bool = False
    notho: Literal["", "genus", "species", "infraspecific"] = ""
    species: str = ""
    infraspecific: list[tuple[str, str]] = field(default_factory=list)
    authors: list[str] = field(default_factory=list)
    qualifiers: list[str] = field(default_factory=list)
    open_nomenclature: bool = False
    cultivar: str = ""

    def name(self) -> ScientificName:
        return ScientificName(
            genus=self.genus,
            species=self.species,
            infraspecific=tuple(self.infraspecific),
            authorship=" ".join(self.authors),
            abbreviated=self.abbreviated,
            notho=self.notho,
            qualifier=" ".join(self.qualifiers),
            open_nomenclature=self.open_nomenclature,
            cultivar=self.cultivar,
        )


class NameReader:
    """Finds the scientific names in a label's tokens and marks the tokens with their parts."""

    def __init__(self, tokens: list[Token], lexicon: Lexicon | None) -> None:
        self.row = TokenRow(tokens, lexicon)

    def read(self) -> list[tuple[int, ScientificName]]:
        """The names, each with the place of its first token (its hybrid sign where it has one),
        in order.
        """
        join_author_brackets(self.row)
        found: list[tuple[int, ScientificName]] = []
        place, count = 0, len(self.row)
        previous: ScientificName | None = None
        previous_end = -1
        while place < count:
            reading = (
                self._formula_member(place, previous)
                if previous and previous_end == place
                else None
            )
            reading = reading or self._name_at(place)
            if reading is None:
                self._mark_connector(place)
                place += 1
                continue
            found.append((place, reading[1]))
            place, previous = reading
            previous_end = place
        return found

    # Where a name begins

    def _name_at(self, place: int) -> tuple[int, ScientificName] | None:
        row = self.row
        signed = row.is_sign(place)
        first = place + 1 if signed else place
        if not row.is_free_word(first):
            return None
        token = row.tokens[first]
        word = token.word
        attached = (
            row.attached_sign(first) and row.knows_genus(word[1:]) and not row.knows_genus(word)
        )
        genus = word[1:] if attached else word
        short = (
            token.text.endswith(".")
            and bool(ABBREVIATION.fullmatch(token.text))
            and (row.all_small or token.text[:1].isupper())
        )
        abbreviated = short or self._bare_initial(first)
        if not self._begins_name(first, genus, abbreviated, signed):
            return None
        if signed:
            row.tokens[place].part = "hybrid-sign"
        token.part = "genus"
        draft = _Draft(genus.capitalize(), abbreviated, "genus" if signed or attached else "")
        return self._after_genus(first + 1, draft), draft.name()

    def _formula_member(
        self, place: int, previous: ScientificName
    ) -> tuple[int, ScientificName] | None:
        """The name after a sign that follows a name: a full one, ``S. caprea``, or an epithet
        alone.
        """
        row = self.row
        if not row.is_sign(place):
            return None
        reading = self._name_at(place + 1)
        if reading:
            row.tokens[place].part = "hybrid-sign"
            end, name = reading
            if name.abbreviated and previous.genus.startswith(name.genus):
                name = replace(name, genus=previous.genus, abbreviated=False)
            return end, name
        if not previous.species or not row.is_epithet(place + 1, fold(previous.genus)):
            return None
        row.tokens[place].part = "hybrid-sign"
        row.tokens[place + 1].part = "species"
        draft = _Draft(previous.genus, previous.abbreviated, species=row.word(place + 1))
        return self._after_species(place + 2, draft), draft.name()

    def _begins_name(self, place: int, genus: str, abbreviated: bool, signed: bool) -> bool:
        row = self.row
        token = row.tokens[place]
        follower = self._follower(place + 1)
        if abbreviated:
            return follower is not None and row.is_epithet(follower, "", strict=True)
        if token.text.endswith(".") or len(genus) < 3:
            return False
        known = row.knows_genus(genus)
        if follower is None:
            return known and row.is_alone(place) and token.text[:1].isupper()
        if known:
            return (
                row.is_epithet(follower, genus)
                or row.attached_sign(follower)
                or row.opens(follower)
                or row.is_quoted(follower)
                or row.is_authorlike(follower, alone=True)
                or row.qualifies(follower)
                or (signed and row.is_alone(place))
            )
        return self._looks_like_genus(place, genus, follower) and not self._in_common_name(
            place, follower
        )

    def _in_common_name(self, place: int, follower: int) -> bool:
        """Whether a vernacular name of the catalogue runs over both words."""
        row = self.row
        if row.lexicon is None or not row.is_word(follower):
            return False
        for start in range(place, max(-1, place - 4), -1):
            if not row.is_free_word(start):
                break
            for stop in range(follower, min(len(row), follower + 4)):
                if not row.is_free_word(stop):
                    break
                phrase = " ".join([token.text for token in row.tokens[start : stop + 1]])
                if row.lexicon.is_common(vernacular_form(phrase)):
                    return True
        return False

    def _looks_like_genus(self, place: int, genus: str, follower: int) -> bool:
        """A genus that no catalogue has, judged by its capital, its ending, and what follows."""
        row = self.row
        text = row.tokens[place].text
        capital = text[:1].isupper() and (row.all_capitals or not text.isupper())
        if genus in NOT_NAMES:
            english = genus in GENERA_IN_ENGLISH and row.is_epithet(follower, genus)
            return english and (capital or row.all_small)
        if genus in RANK_MARKS or genus in AUTHOR_PARTICLES:
            return False
        latin = bool(LATIN_ENDING.search(genus))
        if row.opens(follower):
            return capital
        if row.is_quoted(follower) or row.is_authorlike(follower, alone=True):
            return capital and latin
        epithet = row.word(follower)
        if row.knows_epithet("", epithet) and epithet not in NOT_NAMES:
            return latin or capital
        if row.all_capitals or row.all_small:
            return latin and row.lexicon is None and row.is_epithet(follower, "")
        return (
            capital
            and row.tokens[follower].text[:1].islower()
            and row.is_epithet(follower, genus if latin else "")
        )

    def _follower(self, place: int) -> int | None:
        """The next token that tells whether a name begins here, past a sign, a qualifier and
        authors.
        """
        row = self.row
        while place < len(row):
            token = row.tokens[place]
            if token.part == "author" or row.is_sign(place):
                place += 1
            elif row.qualifies(place):
                if not row.is_word(place + 1):
                    return place
                place += 1
            elif (
                token.kind == "open"
                and place + 2 < len(row)
                and row.tokens[place + 2].kind == "close"
            ):
                place += 3
            else:
                return place if token.kind in ("word", "quoted", "cv") else None
        return None

    def _bare_initial(self, place: int) -> bool:
        """``E crassipes``: an initial without its stop, before an epithet that the catalogue
        knows.
        """
        text = self.row.tokens[place].text
        if len(text) != 1 or not text.isupper() or text == "X" or not self.row.is_word(place + 1):
            return False
        return self.row.knows_epithet("", self.row.word(place + 1))

    # What follows

    def _after_genus(self, place: int, draft: _Draft) -> int:
        row = self.row
        genus = "" if draft.abbreviated else fold(draft.genus)
        if not row.is_epithet(place, genus):
            place = self._take_authors_of_genus(place, genus, draft)
        place = self._take_qualifiers(self._past_other_genus(place), draft)
        if row.opens(place):
            row.tokens[place].part = "open"
            draft.open_nomenclature = True
            return self._take_qualifiers(place + 1, draft)
        if row.is_sign(place) and row.is_epithet(place + 1, genus):
            row.tokens[place].part = "hybrid-sign"
            draft.notho = "species"
            place += 1
        attached = (
            place < len(row)
            and row.attached_sign(place)
            and not row.knows_epithet(genus, row.word(place))
        )
        if not attached and not row.is_epithet(place, genus):
            return self._take_tail(place, draft)
        draft.species = row.word(place)[1:] if attached else row.word(place)
        draft.notho = "species" if attached else draft.notho
        row.tokens[place].part = "species"
        return self._after_species(place + 1, draft)

    def _past_other_genus(self, place: int) -> int:
        """``Eichhornia (Pontederia) crassipes``: the genus in brackets is another placement, or
        a subgenus.
        """
        row = self.row
        if (
            place + 3 < len(row)
            and row.tokens[place].kind == "open"
            and row.tokens[place + 2].kind == "close"
        ):
            inner = place + 1
            capital = row.tokens[inner].text[:1].isupper() and row.word(inner) not in NOT_NAMES
            if row.is_free_word(inner) and capital and row.is_epithet(place + 3, ""):
                row.tokens[inner].part = "genus"
                return place + 3
        return place

    def _after_species(self, place: int, draft: _Draft) -> int:
        while True:
            before = place
            place = self._take_authors(place, draft)
            place = self._take_qualifiers(place, draft)
            place = self._take_infraspecific(place, draft)
            if place == before:
                return self._take_tail(place, draft)

    def _take_infraspecific(self, place: int, draft: _Draft) -> int:
        row = self.row
        if not row.is_free_word(place):
            return place
        word = row.word(place)
        mark = RANK_MARKS.get(word)
        if mark:
            return self._take_marked(place, mark, draft)
        known = row.knows_epithet(fold(draft.genus), word)
        if (
            not known
            and row.lexicon is not None
            and row.lexicon.is_cultivar(fold(draft.genus), word)
        ):
            return place
        latin = (
            row.tokens[place].text.islower()
            and not row.all_small
            and bool(LATIN_ENDING.search(word))
        )
        if (known or latin) and row.is_epithet(place, fold(draft.genus)):
            draft.infraspecific.append(("", word))
            row.tokens[place].part = "infraspecific"
            return place + 1
        return place

    def _take_marked(self, place: int, mark: str, draft: _Draft) -> int:
        row = self.row
        signed = row.is_sign(place + 1)
        target = place + 2 if signed else place + 1
        if not row.is_epithet(target, "", after_mark=True):
            return place
        if signed:
            row.tokens[place + 1].part = "hybrid-sign"
        if signed or row.word(place).startswith("n"):
            draft.notho = "infraspecific"
        row.tokens[place].part = "rank"
        row.tokens[target].part = "infraspecific"
        draft.infraspecific.append((mark, row.word(target)))
        return target + 1

    def _take_authors_of_genus(self, place: int, genus: str, draft: _Draft) -> int:
        """An authorship ends the name of a genus: before an epithet it is none."""
        end, words = take_authors(self.row, place)
        if words and self.row.is_epithet(end, genus):
            for token in self.row.tokens[place:end]:
                token.part = "author" if token.kind == "fixed" else None
            return place
        if words:
            draft.authors.append(words)
        return end

    def _take_authors(self, place: int, draft: _Draft) -> int:
        end, words = take_authors(self.row, place)
        if words:
            draft.authors.append(words)
        return end

    def _take_qualifiers(self, place: int, draft: _Draft) -> int:
        end, found = take_qualifiers(self.row, place)
        draft.qualifiers.extend(found)
        return end

    def _take_tail(self, place: int, draft: _Draft) -> int:
        """A cultivar epithet, Group or trade designation after the name."""
        row = self.row
        while place < len(row) and row.tokens[place].part == "cultivar":
            draft.cultivar = draft.cultivar or row.tokens[place].inner
            place += 1
        end = place
        while end - place < _MAX_TAIL_WORDS and row.is_free_word(end):
            end += 1
        for stop in range(end, place, -1):
            words = [token.text for token in row.tokens[place:stop]]
            if len(words) > 1 and fold(words[-1]).rstrip(".") in GROUP_WORDS:
                row.mark(place, stop, "group")
                return stop
            if not row.all_capitals and all(word.isupper() and len(word) > 2 for word in words):
                row.mark(place, stop, "trade-designation")
                return stop
            if row.lexicon is not None and row.lexicon.is_cultivar(
                fold(draft.genus), " ".join(words)
            ):
                row.mark(place, stop, "cultivar")
                draft.cultivar = row.tokens[place].inner = " ".join(words)
                return stop
        return place

    def _mark_connector(self, place: int) -> None:
        token = self.row.tokens[place]
        if token.part is None and token.kind == "word" and self.row.word(place) in CONNECTORS:
            token.part = "connector"
        elif token.kind == "separator" and token.text == "+":
            token.part = "graft-sign"
