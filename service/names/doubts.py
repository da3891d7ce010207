"""What on the label itself keeps a name from being confirmed; and goods of the trade that
carry a plant's name and are not plants: nets, food, weedkillers.
"""

import re
from collections.abc import Iterator
from itertools import pairwise

from service.names.index import CatalogueIndex
from service.names.lexicon import (
    GOODS,
    GOODS_LAST,
    LIVING,
    NOT_NAMES,
    OTHER_PLANTS,
    STRICT_SENSE,
)
from service.names.near import edits_within, word_bound
from service.names.normal import fold, vernacular_form, vernacular_words
from service.names.parser import Reading
from service.names.trade_words import Run
from service.names.values import ParsedLabel, PartKind, ScientificName

_UNREAD_SIGN = re.compile(r"[×✕✖⨯xX](?:\s|$)")
_OF_NAMES: frozenset[PartKind] = frozenset({"genus", "species", "infraspecific", "rest"})
_WORD = re.compile(r"[^\W\d_]+\.?")
_OF_WATER = frozenset({"water", "aquatic", "pond", "floating", "creeping", "swamp", "marsh", "bog"})
_OTHER_PLANTS: dict[str, list[tuple[str, ...]]] = {}
for _phrase in map(vernacular_words, OTHER_PLANTS):
    _OTHER_PLANTS.setdefault(_phrase[0], []).append(_phrase)


def doubts_of_label(parsed: ParsedLabel, index: CatalogueIndex | None) -> list[str]:
    """Qualifiers, question marks, hybrid signs and words beside a scientific name that nobody
    could read.

    Args:
        index: None where every word of the label is part of one stored name.
    """
    senses = [name.qualifier for name in parsed.names if name.qualifier.strip("? ")]
    doubts = [
        f"the label says {sense}"
        for sense in senses
        if re.sub(r"\s|\.$", "", sense.lower()) not in STRICT_SENSE
    ]
    if "?" in parsed.text:
        doubts.append("the label has a question mark")
    if _has_unread_sign(parsed):
        doubts.append("the label has a hybrid sign beside words that are not read")
    unread = unread_words(parsed, index) if index else []
    if unread:
        doubts.append(f"not read on the label: {' '.join(unread)}")
    return doubts


def unread_words(parsed: ParsedLabel, index: CatalogueIndex) -> list[str]:
    """Words beside a species name that may be a lower epithet or a rank mark gone wrong.

    A capitalised word there is most likely a cultivar without its quotes and leaves the species as
    it is.
    """
    species = [name for name in parsed.names if name.species]
    if not species:
        return []
    named = "".join(
        part.text for part in parsed.parts if part.kind in _OF_NAMES and len(part.text) > 1
    )
    one_case = named.isupper() or named.islower()
    words = [
        word
        for part in parsed.parts
        if part.kind == "rest"
        for word in _WORD.findall(part.text)
        if len(word) > 1
    ]
    unread = [
        w
        for w in words
        if one_case or w.endswith(".") or not w[:1].isupper() or _like_epithet(w, species, index)
    ]
    guessed = [phrase for phrase in parsed.common if not index.is_common(vernacular_form(phrase))]
    unread.extend(
        w
        for phrase in guessed
        for w in phrase.split()
        if fold(w) not in NOT_NAMES and _like_epithet(w, species, index)
    )
    return unread


def _like_epithet(word: str, names: list[ScientificName], index: CatalogueIndex) -> bool:
    folded = fold(word)
    bound = word_bound(len(folded))
    return any(
        edits_within(folded, epithet, bound) <= bound
        for name in names
        for epithet in index.epithets_of(fold(name.genus))
    )


def _has_unread_sign(parsed: ParsedLabel) -> bool:
    read_before = False
    for part in parsed.parts:
        if part.kind == "rest" and _UNREAD_SIGN.match(part.text):
            return True
        if part.kind == "hybrid-sign" and read_before:
            return True
        read_before = part.kind in ("common", "rest")
    return False


_MAX_PHRASE_WORDS = 5
_POT = ("net", "pot")


def goods_word(reading: Reading, index: CatalogueIndex) -> str:
    """The word that says that a label names goods; empty for a plant.

    A word inside a stored name is not read as goods: ``fish grass``, ``killer algae``. A word that
    may also say how a plant is sold counts only after the name, and not beside a word for living
    stock or a species name.
    """
    species = any(name.species and _held(name.canonical, index) for name in reading.parsed.names)
    words = [word for run in reading.runs for word in _free_words(run, index)]
    for word in words:
        if word in GOODS:
            return word
    spoken = [fold(word).rstrip(".") for run in reading.runs for word in run.words]
    if species or any(word in LIVING for word in spoken):
        return ""
    for run in reading.runs:
        free = list(_free_words(run, index))
        for word, following in pairwise(free):
            if (word, following.removesuffix("s")) == _POT and not _names_one(run, index):
                return f"{word} {following}"
        if free and free[-1] in GOODS_LAST and _ends(run, free[-1]):
            return free[-1]
    return ""


def other_plant(reading: Reading, index: CatalogueIndex) -> str:
    """The name of a garden plant that is like a water plant's: ``grape hyacinth``; empty for none.

    A species name on the label speaks for itself, and so does a stored name beside these words or
    around them (``water hyacinth and daylily``), or a word of water.
    """
    names = reading.parsed.names
    if any(name.species or index.is_genus(fold(name.genus)) for name in names):
        return ""
    texts = [*(" ".join(run.words) for run in reading.runs), *(name.genus for name in names)]
    rows = [vernacular_words(text) for text in texts]
    places = [_other_phrase(words) for words in rows]
    found = next(filter(None, places), None)
    if found is None:
        return ""
    for words, place in zip(rows, places, strict=True):
        if _OF_WATER & set(words) or _has_stored_name(words, *(place or (0, 0)), index):
            return ""
    return " ".join(rows[places.index(found)][slice(*found)])


def _other_phrase(words: tuple[str, ...]) -> tuple[int, int] | None:
    for start, word in enumerate(words):
        for phrase in _OTHER_PLANTS.get(word, ()):
            stop = start + len(phrase)
            if words[start:stop] == phrase:
                return start, stop
    return None


def _has_stored_name(words: tuple[str, ...], start: int, stop: int, index: CatalogueIndex) -> bool:
    """Whether several words are a stored name, other than some of those between the bounds."""
    return any(
        index.is_common("".join(words[first:last]))
        for first in range(len(words))
        for last in range(first + 2, len(words) + 1)
        if not (start <= first and last <= stop and last - first < stop - start)
    )


def _free_words(run: Run, index: CatalogueIndex) -> Iterator[str]:
    """The words of a run that no stored name takes in, folded, in order."""
    words = [fold(word).rstrip(".") for word in run.words]
    place = 0
    while place < len(words):
        stop = next(
            (
                stop
                for stop in range(min(len(words), place + _MAX_PHRASE_WORDS), place + 1, -1)
                if index.is_common(vernacular_form(" ".join(words[place:stop])))
            ),
            0,
        )
        if stop:
            place = stop
            continue
        yield words[place]
        place += 1


def _ends(run: Run, word: str) -> bool:
    return fold(run.words[-1]).rstrip(".") == word


def _held(name: str, index: CatalogueIndex) -> bool:
    return bool(index.by_form(fold(name)))


def _names_one(run: Run, index: CatalogueIndex) -> bool:
    """Whether the run has the name of one plant: ``Java fern net pot`` is that plant in its pot."""
    return any(
        len({record.plant_id for record in index.by_vernacular(vernacular_form(phrase))}) == 1
        for phrase in (run.common if run.known and not run.genera else ())
    )
