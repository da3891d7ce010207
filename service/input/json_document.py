"""JSON and TOML as people and programs send them, read strictly: what two readers could take in two
ways is refused with its place, and what costs more than it says has its limits.
"""

import json
import math
import re
import tomllib
from collections.abc import Sequence
from typing import Any

from service.errors import BadRequest

_MOST_DIGITS = 40
"""Digits of a whole number; no quantity here needs as many, and thousands of them cost a second
to read (common practice, no source)."""


class _Repeated(dict[str, Any]):
    """An object with a key that is given more than once."""

    def __init__(self, key: str) -> None:
        super().__init__()
        self.key = key


class _BadNumber(ValueError):
    """A number that no calculation takes."""


def parse_json(content: bytes) -> dict[str, Any]:
    """The JSON object of a document.

    Raises:
        BadRequest: not JSON (names line and column), not an object, a key given twice (names its
            pointer), half of a character, or a number that no calculation takes.
    """
    repeated: list[_Repeated] = []

    def object_of(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) == len(pairs):
            return found
        keys = [key for key, _ in pairs]
        repeated.append(_Repeated(next(key for key in keys if keys.count(key) > 1)))
        return repeated[-1]

    try:
        document = json.loads(
            content.decode("utf-8-sig"),
            object_pairs_hook=object_of,
            parse_constant=_no_constant,
            parse_int=_whole,
            parse_float=_fraction,
        )
    except UnicodeDecodeError as error:
        raise BadRequest("The document is not UTF-8.", next_step="Save it as UTF-8.") from error
    except json.JSONDecodeError as error:
        raise BadRequest(
            f"The document is not valid JSON: {error.msg} in line {error.lineno}, "
            f"column {error.colno}.",
            next_step="Look for a missing comma, quote or bracket just before it.",
        ) from error
    except _BadNumber as error:
        raise BadRequest(
            str(error), next_step="Write a number that can be calculated with, or leave it out."
        ) from error
    except RecursionError as error:
        raise BadRequest("The document is nested too deep.") from error
    if repeated:
        _refuse_repeated(document, repeated[0])
    if not isinstance(document, dict):
        raise BadRequest(
            "The document is not a JSON object.", next_step="Begin with { and end with }."
        )
    if b"\\u" in content:
        _refuse_half_characters(document)
    return document


def pointer_of(steps: Sequence[object]) -> str:
    """A JSON pointer (RFC 6901).

    >>> pointer_of(["labels", 3])
    '/labels/3'
    """
    return "".join(f"/{str(step).replace('~', '~0').replace('/', '~1')}" for step in steps)


def _no_constant(name: str) -> float:
    raise _BadNumber(f"{name} is not a number of JSON.")


def _whole(digits: str) -> int:
    if len(digits) > _MOST_DIGITS:
        raise _BadNumber(f"A number of {len(digits):,} digits is more than can be meant.")
    return int(digits)


def _fraction(text: str) -> float:
    value = float(text)
    if math.isinf(value):
        raise _BadNumber(f"The number {text[:40]} is larger than can be calculated with.")
    return value


def _refuse_repeated(document: Any, repeated: _Repeated) -> None:
    """Name the place of a key that is given twice; the later value would win in silence."""
    waiting: list[tuple[tuple[object, ...], Any]] = [((), document)]
    while waiting:
        steps, value = waiting.pop()
        if value is repeated:
            raise BadRequest(
                f"The key {repeated.key!r} is given more than once.",
                pointer=pointer_of([*steps, repeated.key]),
                next_step="Keep the one that is meant.",
            )
        if isinstance(value, dict):
            waiting += [((*steps, key), part) for key, part in value.items()]
        elif isinstance(value, list):
            waiting += [((*steps, index), part) for index, part in enumerate(value)]
    raise BadRequest(f"The key {repeated.key!r} is given more than once.")


def _refuse_half_characters(document: dict[str, Any]) -> None:
    """JSON can write half of a surrogate pair, which no text can hold."""
    try:
        json.dumps(document, ensure_ascii=False).encode()
    except UnicodeEncodeError as error:
        half = error.object[error.start].encode("unicode-escape").decode()
        raise BadRequest(
            f"The document holds {half}, half of a character.",
            next_step="Write the character out in UTF-8.",
        ) from error


_MOST_PARTS = 100
"""Parts of a dotted key; reading costs the square of their number (common practice, no source)."""
_DOTTED = re.compile(r"[\w\"'-]+(?:\s*\.\s*[\w\"'-]+)+")


def parse_toml(text: str) -> dict[str, Any]:
    """The tables of a TOML document.

    Raises:
        tomllib.TOMLDecodeError: not TOML, nested too deep, or a key of too many parts; names the
            line where it is known.
    """
    for number, line in enumerate(text.splitlines(), start=1):
        if line.count(".") >= _MOST_PARTS and _longest_key(line) > _MOST_PARTS:
            raise tomllib.TOMLDecodeError(
                f"A key of more than {_MOST_PARTS} parts (at line {number})"
            )
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise tomllib.TOMLDecodeError("Nested too deep") from error


def _longest_key(line: str) -> int:
    found = _DOTTED.finditer(line)
    # A sentence has spaces after its full stops, and words with spaces between them.
    return max((key[0].count(".") + 1 for key in found), default=0)
