"""Answers cached as long as the law book that they come from: a stock list asks the same few
questions of thousands of plants.
"""

from collections.abc import Callable, Hashable
from functools import wraps
from typing import TypeVar, TypeVarTuple
from weakref import WeakKeyDictionary

from service.regulation.law import LawBook

_Asked = TypeVarTuple("_Asked")
_Answer = TypeVar("_Answer")
_MOST = 60_000
"""Answers of one function cached for one law book, before they are dropped together."""


def cached_by_book(
    function: Callable[[LawBook, *_Asked], _Answer],
) -> Callable[[LawBook, *_Asked], _Answer]:
    """Cache what a pure function of a law book and hashable values answers.

    The cache of a book goes with the book.
    """
    caches: WeakKeyDictionary[LawBook, dict[Hashable, _Answer]] = WeakKeyDictionary()

    @wraps(function)
    def answered(law: LawBook, *asked: *_Asked) -> _Answer:
        cache = caches.setdefault(law, {})
        if asked in cache:
            return cache[asked]
        if len(cache) >= _MOST:
            cache.clear()
        answer = cache[asked] = function(law, *asked)
        return answer

    return answered
