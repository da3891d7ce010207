"""Headers of a request as the server read them: names in lower case."""

from starlette.types import Scope


def header(scope: Scope, name: bytes) -> str | None:
    """The value of a header, the first where it comes several times.

    >>> header({"headers": [(b"accept", b"text/csv")]}, b"accept")
    'text/csv'
    """
    for key, value in scope["headers"]:
        if key == name:
            text: str = value.decode("latin-1")
            return text
    return None
