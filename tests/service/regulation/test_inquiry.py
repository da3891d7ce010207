"""Many questions at once answer as each question by itself, and a law book goes with its store."""

import gc
import weakref
from datetime import date

import pytest

from service.regulation.finding import Question
from service.regulation.for_name import Inquiry, find_for_name
from service.regulation.law import LawBook
from service.store.library import Library
from service.values.vocabulary import JURISDICTION_NAMES, Act

ON = date(2026, 6, 1)
ACTS: tuple[Act, ...] = ("sell", "plant", "import")


@pytest.mark.parametrize(
    "label",
    [
        "Trapa natans",  # on many lists, the federal one too
        "Nymphaea odorata",  # named by a state, native in others
        "Iris",  # a genus with listed and unlisted species
        "Eichornia crasipes",  # by its spelling
        "Giant duckweed",  # the list of one state brings another plant in
        "Elodea canadensis",  # California's rule on every aquatic plant
        "Myriophyllum papillosum",  # outside the catalogue, its genus listed
        "water hyacinth & water lettuce combo",
        "zzzz",
    ],
)
def test_questions_asked_together_are_answered_as_by_themselves(
    library: Library, label: str
) -> None:
    naming = library.naming(library.resolver.resolve(label))
    questions = [Question(place, act, ON) for place in JURISDICTION_NAMES for act in ACTS]
    alone = tuple(find_for_name(library.law, naming, question) for question in questions)
    assert Inquiry(library.law, questions).findings(naming) == alone


def test_one_inquiry_answers_label_after_label_without_mixing_them(library: Library) -> None:
    questions = [Question(place, "sell", ON) for place in JURISDICTION_NAMES]
    inquiry = Inquiry(library.law, questions)
    namings = [
        library.naming(library.resolver.resolve(label))
        for label in ("Trapa natans", "Caltha palustris", "Trapa natans", "Iris")
    ]
    found = [inquiry.findings(naming) for naming in namings]
    assert found == [Inquiry(library.law, questions).findings(naming) for naming in namings]
    assert found[0] == found[2] != found[1]


def test_a_law_book_is_freed_once_nobody_asks_it() -> None:
    book = LawBook(())
    seen = weakref.ref(book)
    Inquiry(book, [Question(place, "sell", ON) for place in JURISDICTION_NAMES])
    del book
    gc.collect()
    assert seen() is None
