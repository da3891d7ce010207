"""Example requests and answers of the API: shown in the contract, run with curl, sent by the
tests.
"""

import json
import shlex
import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import quote, urlencode

from pydantic import BaseModel, ConfigDict, Field


class _Text(BaseModel):
    """The same request with a body that is no JSON."""

    model_config = ConfigDict(extra="forbid")

    type: str
    body: str
    query: dict[str, Any] = {}
    accept: str = "*/*"


class _Request(BaseModel):
    model_config = ConfigDict(extra="forbid", populate_by_name=True)

    path: dict[str, str] = {}
    query: dict[str, Any] = {}
    body: Any = Field(None, alias="json")
    text: _Text | None = None
    upload: str | None = None
    demo: bool = False
    job: bool = False


@dataclass(frozen=True)
class Example:
    """One request.

    Attributes:
        upload: name of a file that is the body; such a request needs a token.
        demo: it asks about the demo data.
        job: it asks about a job, whose id comes with the answer that began it.
    """

    operation_id: str
    path_values: dict[str, str]
    query: dict[str, Any] = field(default_factory=dict)
    body: bytes | None = None
    content_type: str | None = None
    accept: str = "*/*"
    upload: str | None = None
    demo: bool = False
    job: bool = False

    def address(self, template: str, **path_values: str) -> str:
        """Path and query. Values given here stand in for those of the example."""
        path = template
        for name, value in {**self.path_values, **path_values}.items():
            path = path.replace(f"{{{name}}}", quote(value, safe=":/"))
        return path + (f"?{urlencode(self.query, doseq=True)}" if self.query else "")

    @property
    def headers(self) -> dict[str, str]:
        """Headers other than what any client sends."""
        headers = {"Content-Type": self.content_type} if self.content_type else {}
        return headers | ({"Accept": self.accept} if self.accept != "*/*" else {})

    def curl(self, method: str, template: str) -> str:
        """The request as a shell command."""
        parts = ["curl -sSf"]
        parts += [f"-X {method}"] if method not in ("GET", "POST") else []
        parts += [f"-H {shlex.quote(f'{name}: {value}')}" for name, value in self.headers.items()]
        if self.upload:
            parts += ['-H "Authorization: Bearer $REEDGATE_TOKEN"', f"--data-binary @{self.upload}"]
        elif self.body is not None:
            text = self.body.decode()
            quoted = "$" + repr(text) if "\r" in text else shlex.quote(text)
            parts += [f"--data-binary {quoted}"]
        return " ".join([*parts, f'"$REEDGATE_URL{self.address(template)}"'])


@cache
def examples() -> dict[str, tuple[Example, ...]]:
    """The requests of each operation, the first with the answer kept for it."""
    source = tomllib.loads(files(__package__).joinpath("requests.toml").read_text(encoding="utf-8"))
    return {
        name: tuple(_examples(name, _Request.model_validate(given)))
        for name, given in source.items()
    }


def _examples(name: str, given: _Request) -> list[Example]:
    body = json.dumps(given.body, ensure_ascii=False).encode() if given.body is not None else None
    kind = "application/octet-stream" if given.upload else "application/json" if body else None
    found = [
        Example(
            name,
            given.path,
            given.query,
            body,
            kind,
            upload=given.upload,
            demo=given.demo,
            job=given.job,
        )
    ]
    if given.text is not None:
        text = given.text
        found.append(
            Example(name, given.path, text.query, text.body.encode(), text.type, text.accept)
        )
    return found


def answer(operation_id: str) -> Any:
    """The answer kept for the first request of an operation; None where none is kept."""
    kept = files(__package__).joinpath(f"{operation_id}.json")
    return json.loads(kept.read_text(encoding="utf-8")) if kept.is_file() else None
