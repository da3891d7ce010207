"""The JSON object of a request or file."""

import json
from typing import Any

from service.errors import BadRequest


def parse_json(content: bytes) -> dict[str, Any]:
    """The JSON object of a document.

    Raises:
        BadRequest: not JSON, or not an object; names line and column.
    """
    try:
        document = json.loads(content.decode("utf-8-sig"), parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        raise BadRequest(
            "The document is not UTF-8 text.", next_step="Save it as UTF-8."
        ) from error
    except json.JSONDecodeError as error:
        raise BadRequest(
            f"The document is not JSON: {error.msg} in line {error.lineno}, column {error.colno}.",
            next_step="Look for a missing comma, quote or bracket just before it.",
        ) from error
    except RecursionError as error:
        raise BadRequest("The document is nested too deep.") from error
    if not isinstance(document, dict):
        raise BadRequest(
            "The document is not a JSON object.", next_step="Begin with { and end with }."
        )
    _refuse_half_characters(document)
    return document


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


def _no_constant(name: str) -> float:
    raise BadRequest(f"{name} is not a number of JSON.", next_step="Leave out what is not known.")
