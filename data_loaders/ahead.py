"""Making what comes next while what is here is worked on."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")


def one_ahead(items: Iterator[Item]) -> Iterator[Item]:
    """The items of an iterator in their order, the next one made in a thread of its own.

    What making an item raises is raised where it would have come.
    """
    end = object()
    with ThreadPoolExecutor(1, thread_name_prefix="ahead") as maker:
        coming = maker.submit(next, items, end)
        while (item := coming.result()) is not end:
            coming = maker.submit(next, items, end)
            yield item  # type: ignore[misc]
