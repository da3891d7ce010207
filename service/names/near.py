"""Spelling: candidates first, then the bounded edit distance.

The distance is the optimal string alignment distance: substitution, insertion, deletion and the
swap of neighbours each count one. Candidates come from a symmetric-delete index over prefixes,
which misses nothing within its bound. The confusions of Latin are those that the ICN lists as
correctable or confusable (Arts 53.2, 60.1 to 60.8, 61).
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import cached_property, lru_cache

from rapidfuzz.distance import OSA
from rapidfuzz.process import extract

MAX_EDITS = 2
_PREFIX_LETTERS = 7
_SCANS = 100
"""Words looked for one by one before the index is built (measured: both cost about the same)."""


def edit_bound(letters: int) -> int:
    """Edits allowed in a whole name or vernacular name of so many letters (common practice, no
    source).
    """
    return 0 if letters < 4 else 1 if letters < 8 else MAX_EDITS


def word_bound(letters: int) -> int:
    """Edits allowed in a genus name or an epithet of so many letters (common practice, no
    source).
    """
    return 0 if letters < 3 else 1 if letters < 6 else MAX_EDITS


def edits_within(one: str, other: str, bound: int) -> int:
    """Optimal string alignment distance; ``bound + 1`` stands for more than the bound."""
    return int(OSA.distance(one, other, score_cutoff=bound))


class DeleteIndex:
    """Finds the stored words within two edits of a word.

    The first few words are looked for in every stored one: for one label that costs a tenth of
    building the index, which a long list needs.
    """

    def __init__(self, words: Iterable[str], *, scans: int = _SCANS) -> None:
        self._words = sorted(set(words))
        self._scans = scans

    @cached_property
    def _by_delete(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = defaultdict(list)
        for number, word in enumerate(self._words):
            for key in _deletes(word[:_PREFIX_LETTERS], MAX_EDITS):
                found[key].append(number)
        return found

    def near(self, word: str, bound: int) -> list[tuple[str, int]]:
        """Stored words within ``bound`` edits, with their distances, nearest first."""
        if self._scans > 0:
            self._scans -= 1
            return self._scanned(word, bound)
        numbers: set[int] = set()
        for key in _deletes(word[:_PREFIX_LETTERS], bound):
            numbers.update(self._by_delete.get(key, ()))
        found: list[tuple[str, int]] = []
        shortest, longest = len(word) - bound, len(word) + bound
        for number in numbers:
            candidate = self._words[number]
            if shortest <= len(candidate) <= longest:
                distance = edits_within(word, candidate, bound)
                if distance <= bound:
                    found.append((candidate, distance))
        return sorted(found, key=lambda p: (p[1], p[0]))

    def _scanned(self, word: str, bound: int) -> list[tuple[str, int]]:
        near = extract(word, self._words, scorer=OSA.distance, score_cutoff=bound, limit=None)
        return sorted(
            ((candidate, int(distance)) for candidate, distance, _ in near),
            key=lambda p: (p[1], p[0]),
        )


@lru_cache(maxsize=2_048)
def _deletes(prefix: str, bound: int) -> frozenset[str]:
    """The prefix, and what is left of it after dropping up to ``bound`` letters."""
    found = {prefix}
    latest = found
    for _ in range(bound):
        latest = {word[:place] + word[place + 1 :] for word in latest for place in range(len(word))}
        found = found | latest
    return frozenset(found)


_CONFUSED = (
    (re.compile(r"ae|oe"), "e"),
    (re.compile(r"ph"), "f"),
    (re.compile(r"(?<=[rtck])h"), ""),
    (re.compile(r"[yj]"), "i"),
    (re.compile(r"[k]|c(?=[^ei]|$)"), "c"),
    (re.compile(r"w"), "v"),
    (re.compile(r"z"), "s"),
    (re.compile(r"ii+"), "i"),
    (re.compile(r"(.)\1+"), r"\1"),
)
_GENDER_ENDING = re.compile(r"(?:us|um|a|is|e|os|on|er|ra|rum|i|ae)$")


@lru_cache(maxsize=16_384)
def latin_key(word: str) -> str:
    """Equal for words that differ by the usual confusions: i/y/j, ae/oe/e, ph/f, th/t, ii/i,
    doubled letters.
    """
    for pattern, plain in _CONFUSED:
        word = pattern.sub(plain, word)
    return word


@lru_cache(maxsize=16_384)
def epithet_key(epithet: str) -> str:
    """``latin_key`` without the ending that agrees with the genus in gender (ICN Art. 23.5)."""
    key = latin_key(epithet)
    stem = _GENDER_ENDING.sub("", key)
    return stem if len(stem) >= 3 else key


def epithets_near(wanted: tuple[str, ...], stored: tuple[str, ...]) -> int | None:
    """Edits between two rows of epithets, word by word, or None when a word is out of bounds.

    Words that share their ``epithet_key`` count one edit at most.
    """
    if len(wanted) != len(stored):
        return None
    total = 0
    for one, other in zip(wanted, stored, strict=True):
        if one == other:
            continue
        if epithet_key(one) == epithet_key(other):
            total += 1
            continue
        bound = word_bound(max(len(one), len(other)))
        distance = edits_within(one, other, bound)
        if distance > bound:
            return None
        total += distance
    return total


def similarity(distance: int, letters: int) -> float:
    """A score below 1: one minus the edits per letter, two places."""
    return round(max(0.0, min(0.99, 1.0 - distance / max(letters, 1))), 2)


def phrases(words: tuple[str, ...], *, least: int, most: int) -> Iterator[tuple[str, ...]]:
    """Neighbouring words, the longest phrases first."""
    for count in range(min(most, len(words)), least - 1, -1):
        for first in range(len(words) - count + 1):
            yield words[first : first + count]


def genus_keys(genus: str) -> frozenset[str]:
    """Keys that two genera share when they are one edit apart or differ by a Latin confusion.

    The genus itself, the genus less each of its letters, and its ``latin_key`` after a tilde.
    """
    dropped = {genus[:place] + genus[place + 1 :] for place in range(len(genus))}
    return frozenset({genus, *dropped, f"~{latin_key(genus)}"})
