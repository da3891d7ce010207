"""TOML that people send, with limits on what costs more than it says."""

import re
import tomllib
from typing import Any

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
