"""Questions that are asked most, answered without the framework's own reading of parameters.

A route keeps its declaration, from which the contract is made and its parameters are read here too.
What it cannot take as it stands, a mistake above all, goes on to the framework, which tells what is
wrong: nothing is answered here that the framework would answer otherwise.
"""

from collections.abc import Awaitable, Callable, Iterable
from typing import Any
from urllib.parse import unquote_plus

from fastapi import Response
from fastapi.routing import APIRoute
from pydantic import BaseModel, ValidationError, create_model
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.asked import takes_several
from service.api.heads import header
from service.api.negotiation import offered_types, preferred
from service.errors import ReedgateError


class Direct:
    """Answers GET requests to some routes, and passes all others on.

    Args:
        routes: each with a coroutine that is given ``library`` and query parameters, no more.
    """

    def __init__(self, app: ASGIApp, routes: Iterable[APIRoute]) -> None:
        self._app = app
        self._questions = {route.path: _Question(route) for route in routes}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        asked = scope["type"] == "http" and scope["method"] == "GET"
        question = self._questions.get(scope["path"]) if asked else None
        answer = await question.answered(scope) if question is not None else None
        await (answer or self._app)(scope, receive, send)


class _Question:
    """A route with what its query may hold."""

    def __init__(self, route: APIRoute) -> None:
        parameters = route.dependant.query_params
        self._several = {
            parameter.alias: takes_several(parameter.field_info.annotation)
            for parameter in parameters
        }
        fields: dict[str, Any] = {
            parameter.name: (parameter.field_info.annotation, parameter.field_info)
            for parameter in parameters
        }
        self._model: type[BaseModel] = create_model("Query", **fields)
        self._endpoint: Callable[..., Awaitable[Response]] = route.endpoint
        self._offered = offered_types(route)

    async def answered(self, scope: Scope) -> Response | None:
        """The answer; None where the framework has to look at it."""
        library = scope["state"].get("library")
        accepted = preferred(header(scope, b"accept") or "", self._offered)
        given = self._given(scope["query_string"])
        if library is None or accepted is None or given is None:
            return None
        try:
            return await self._endpoint(library=library, **vars(self._model.model_validate(given)))
        except (ValidationError, ReedgateError):
            return None

    def _given(self, query: bytes) -> dict[str, str | list[str]] | None:
        """The parameters; None where one is not known or comes too often."""
        single: dict[str, str] = {}
        lists: dict[str, list[str]] = {}
        for pair in query.decode("latin-1").split("&"):
            if not pair:
                continue
            name, _, value = pair.partition("=")
            name, value = _plain(name), _plain(value)
            if name not in self._several or name in single:
                return None
            if self._several[name]:
                lists.setdefault(name, []).append(value)
            else:
                single[name] = value
        return {**single, **lists}


def _plain(text: str) -> str:
    """Text of a query without its escapes (WHATWG URL, application/x-www-form-urlencoded)."""
    return unquote_plus(text) if "%" in text or "+" in text else text
