"""A plan in a file that somebody opened: the document itself, or a table that says the same."""

from typing import Any

from service.errors import BadRequest
from service.input.json_document import parse_json
from service.input.plan_table import table_document


def read_plan_document(content: bytes) -> dict[str, Any]:
    """The plan document of a file: JSON as it is, a table row by row.

    Raises:
        BadRequest: neither a plan document nor a table with a column that names the plants.
    """
    if not content.strip():
        raise BadRequest("The file is empty.", pointer="file")
    if content.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"{"):
        return parse_json(content)
    return table_document(content)
