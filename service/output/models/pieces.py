"""Answers put together from pieces that were written before."""

from collections.abc import Callable, Iterable
from typing import TypeVar

from service.output.models.shape import written
from service.values.kept import Kept

_T = TypeVar("_T")

_ONCE_BYTES = 16_000_000
"""Values written once, with some 200 bytes of books for each."""
_BOOKS_BYTES = 200
_once: Kept[int, tuple[object, bytes]] = Kept(_ONCE_BYTES)


def written_once(value: _T, write: Callable[[_T], bytes] = written) -> bytes:
    """A value that never changes and comes in many answers, as JSON: kept from answer to answer.

    A value is known by being the same object, so that nothing of it has to be compared.

    Args:
        write: where it is written from parts that are themselves kept.
    """
    kept = _once.get(id(value))
    # With its value: an id may come again once its object is gone.
    if kept is not None and kept[0] is value:
        return kept[1]
    text = write(value)
    _once.put(id(value), (value, text), len(text) + _BOOKS_BYTES)
    return text


def with_parts(frame: bytes, **parts: Iterable[bytes]) -> list[bytes]:
    """The JSON of a value whose lists were left empty, in pieces, with what stands in them.

    A key can stand in no text of the frame by mistake, for there its quotes are escaped.

    >>> b"".join(with_parts(b'{"a":1,"b":[],"c":[]}', b=[b"2", b"3"], c=[b"4"]))
    b'{"a":1,"b":[2,3],"c":[4]}'
    """
    pieces: list[bytes] = []
    for name, members in parts.items():
        before, _, frame = frame.partition(b'"%b":[]' % name.encode())
        pieces += (before, b'"%b":[' % name.encode(), b",".join(members), b"]")
    return [*pieces, frame]
