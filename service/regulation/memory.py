"""Answers kept as long as the law book that they come from: a stock list asks the same few
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
"""Answers of one kind kept for one law book, before they are forgotten together."""


def remembered(
    function: Callable[[LawBook, *_Asked], _Answer],
) -> Callable[[LawBook, *_Asked], _Answer]:
    """Keep what a pure function of a law book and hashable values answers.

    A book that nobody holds takes its answers with it.
    """
    memories: WeakKeyDictionary[LawBook, dict[Hashable, _Answer]] = WeakKeyDictionary()

    @wraps(function)
    def answered(law: LawBook, *asked: *_Asked) -> _Answer:
        memory = memories.setdefault(law, {})
        if asked in memory:
            return memory[asked]
        if len(memory) >= _MOST:
            memory.clear()
        answer = memory[asked] = function(law, *asked)
        return answer

    return answered
