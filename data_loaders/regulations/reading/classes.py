"""Which class of a list the words of a heading name."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

_WORD = re.compile(r"[a-z0-9]+")
_GENERIC_TEXT = """
    plant species noxious weed aquatic list class category the of and or in for invasive
    exotic nuisance terrestrial tier priority not established to be a an by on established
    named section law part following
"""
_GENERIC = frozenset(_GENERIC_TEXT.split())
_Words = tuple[str, ...]


def words_of(text: str) -> _Words:
    """Words in small letters and in the singular."""
    return tuple(
        word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
        for word in _WORD.findall(text.lower())
    )


@dataclass(frozen=True, slots=True)
class _Class:
    name: str
    words: _Words
    telling: tuple[_Words, ...]
    """Runs of its words that no other class has, the longest first."""


class ClassFinder:
    """Finds which class a text names; where it names two, none."""

    def __init__(self, names: Sequence[str]) -> None:
        split = {name: words_of(name) for name in names}
        self.names = tuple(names)
        self._classes = tuple(
            _Class(name, words, _telling(name, split)) for name, words in split.items()
        )

    @property
    def only(self) -> str | None:
        """The class of a list that has one."""
        return self.names[0] if len(self.names) == 1 else None

    def named_by(self, text: str, *, loose: bool = True) -> str | None:
        """The class that a heading, a cell or a lead-in names.

        Args:
            loose: a single telling word will do, as in a heading; else two in a row are needed.
        """
        words = words_of(text)
        whole = [
            list_class
            for list_class in self._classes
            if _position(list_class.words, words) is not None
        ]
        if whole:
            longest = max(len(list_class.words) for list_class in whole)
            best = [list_class for list_class in whole if len(list_class.words) == longest]
            others = [
                list_class for list_class in whole if not _within(list_class.words, best[0].words)
            ]
            return best[0].name if len(best) == 1 and not others else None
        scores = {
            list_class.name: _score(list_class, words, loose=loose) for list_class in self._classes
        }
        best_score = max(scores.values(), default=0)
        if best_score == 0:
            return None
        found = [name for name, score in scores.items() if score > 0]
        return found[0] if len(found) == 1 else None

    def mentions(self, text: str) -> list[tuple[int, str]]:
        """Places in a text where a class is named in full or nearly so, in order."""
        found: list[tuple[int, str]] = []
        matches = list(_WORD.finditer(text.lower()))
        words = words_of(text)
        for list_class in sorted(self._classes, key=lambda list_class: -len(list_class.words)):
            runs = [list_class.words, *(run for run in list_class.telling if len(run) > 1)]
            for run in runs:
                for place in range(len(words) - len(run) + 1):
                    if words[place : place + len(run)] == run:
                        found.append((matches[place].start(), list_class.name))
        return sorted(dict(reversed(found)).items())


def _telling(name: str, split: dict[str, _Words]) -> tuple[_Words, ...]:
    words = split[name]
    others = [other for key, other in split.items() if key != name]
    runs = {
        words[first : first + count]
        for count in range(1, len(words) + 1)
        for first in range(len(words) - count + 1)
    }
    telling = [
        run
        for run in runs
        if not (len(run) == 1 and (run[0] in _GENERIC or (len(run[0]) == 1)))
        and not all(word in _GENERIC and len(word) > 1 for word in run)
        and (not others or not any(_position(run, other) is not None for other in others))
    ]
    return tuple(sorted(telling, key=lambda run: (-len(run), run)))


def _score(list_class: _Class, words: _Words, *, loose: bool) -> int:
    for run in list_class.telling:
        if (loose or len(run) > 1) and _position(run, words) is not None:
            return len(run)
    return 0


def _position(run: _Words, words: _Words) -> int | None:
    return next(
        (
            place
            for place in range(len(words) - len(run) + 1)
            if words[place : place + len(run)] == run
        ),
        None,
    )


def _within(one: _Words, other: _Words) -> bool:
    return _position(one, other) is not None
