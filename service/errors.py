"""Errors that a person can act on.

ReedgateError
├── BadRequest            what was asked cannot be read; carries a JSON pointer to the place
│   ├── UnknownValue      a value outside its vocabulary; carries the values that would do
│   ├── Mistakes          several at once, each with its pointer
│   └── TooLarge          more than the limit in force; carries the limit
├── NotFound              no such plant, list, water
├── BadFile               an input file cannot be used; carries file, row, column or entry, field
├── TookTooLong           more work than the time limit allows
├── GivenUp               nobody waits for the answer any more
└── StoreError
    ├── StoreMissing      no store yet
    ├── StoreOutdated     built by another version
    ├── StoreDamaged      fails its integrity check
    └── SharedAway        what servers share (jobs, tokens, watches) cannot be reached
"""

from collections.abc import Sequence


class ReedgateError(Exception):
    """Base of all. ``detail`` says what is wrong, ``next_step`` what to do about it."""

    title = "Reedgate could not answer"

    def __init__(self, detail: str, *, next_step: str = "") -> None:
        super().__init__(detail)
        self.detail = detail
        self.next_step = next_step

    def __str__(self) -> str:
        return f"{self.detail} {self.next_step}".strip()


class BadRequest(ReedgateError):
    """A request that cannot be read.

    ``pointer`` is an RFC 6901 JSON pointer, empty for the whole.
    """

    title = "The request cannot be read"

    def __init__(self, detail: str, *, pointer: str = "", next_step: str = "") -> None:
        super().__init__(detail, next_step=next_step)
        self.pointer = pointer


class UnknownValue(BadRequest):
    """A value outside its vocabulary."""

    title = "A value is not known"

    def __init__(self, what: str, value: str, known: Sequence[str], *, pointer: str = "") -> None:
        super().__init__(
            f"{what} {value!r} is not known.",
            pointer=pointer,
            next_step=f"Use one of: {', '.join(known)}.",
        )
        self.known = tuple(known)


class Mistakes(BadRequest):
    """Several parts that cannot be read; the first is the error's own text."""

    def __init__(self, parts: Sequence[BadRequest]) -> None:
        first = parts[0]
        super().__init__(first.detail, pointer=first.pointer, next_step=first.next_step)
        self.parts = tuple(parts)


class TooLarge(BadRequest):
    """More than the limit in force."""

    title = "The request is too large"

    def __init__(self, what: str, limit: int, *, pointer: str = "") -> None:
        super().__init__(
            f"{what} passes the limit of {limit:,}.",
            pointer=pointer,
            next_step="Send it in parts, or raise the limit.",
        )
        self.limit = limit


class NotFound(ReedgateError):
    """Nothing in the store has this id."""

    title = "Not found"


class BadFile(ReedgateError):
    """An input file, or a place in it, that cannot be used.

    ``place`` names it for a person: ``row 12, column "label"`` or ``entries[3].rank``.
    """

    title = "A file cannot be used"

    def __init__(self, file: str, detail: str, *, place: str = "", next_step: str = "") -> None:
        where = f"{file}, {place}" if place else file
        super().__init__(f"{where}: {detail}", next_step=next_step)
        self.file = file
        self.place = place


class TookTooLong(ReedgateError):
    """More work than the time limit allows."""

    title = "The answer took too long"


class GivenUp(ReedgateError):
    """The one who asked has gone, so the work was stopped."""

    title = "The request was cancelled"


class StoreError(ReedgateError):
    """The local store cannot answer."""

    title = "The store cannot answer"


class StoreMissing(StoreError):
    """No store at the path."""

    title = "There is no store yet"


class StoreOutdated(StoreError):
    """The store was built by another version of the schema."""

    title = "The store was built by another version"


class StoreDamaged(StoreError):
    """The store fails its integrity check."""

    title = "The store is damaged"


class SharedAway(StoreError):
    """What servers share cannot be reached now."""

    title = "What servers share cannot be reached"
