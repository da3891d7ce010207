"""Goods of the trade that carry a plant's name and are not plants: nets, food, weedkillers."""

from collections.abc import Iterator
from itertools import pairwise

from service.names.index import CatalogueIndex
from service.names.lexicon import GOODS, GOODS_LAST, LIVING
from service.names.normal import fold, vernacular_form
from service.names.parser import Reading
from service.names.trade_words import Run

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
