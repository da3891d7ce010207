import threading
from collections.abc import Iterator

import pytest

from data_loaders.ahead import one_ahead


def test_items_come_in_their_order() -> None:
    assert list(one_ahead(iter(range(100)))) == list(range(100))
    assert list(one_ahead(iter([None, 0, None]))) == [None, 0, None]
    assert list(one_ahead(iter(()))) == []


def test_the_next_item_is_made_while_one_is_worked_on() -> None:
    made = [threading.Event() for _ in range(3)]

    def items() -> Iterator[int]:
        for place, event in enumerate(made):
            event.set()
            yield place

    ahead = one_ahead(items())
    assert next(ahead) == 0
    assert made[1].wait(10)
    assert list(ahead) == [1, 2]


def test_a_failure_comes_after_the_items_before_it() -> None:
    def items() -> Iterator[int]:
        yield 1
        raise ValueError("the disk is full")

    ahead = one_ahead(items())
    assert next(ahead) == 1
    with pytest.raises(ValueError, match="the disk is full"):
        next(ahead)
