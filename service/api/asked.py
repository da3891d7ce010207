"""What a request asks, looked over before its route sees it: parameters that the route does not
know, or that come twice where one is meant, are mistakes and are answered as such.
"""

from collections import Counter
from collections.abc import Callable, Coroutine, Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from types import UnionType
from typing import Any, TypeVar, Union, get_args, get_origin

from fastapi import Request, Response
from fastapi._compat.v2 import ModelField
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from pydantic import BaseModel, ValidationError

from service.api.negotiation import accepted, offered_types, sent_type
from service.errors import BadRequest, Mistakes
from service.input.json_document import parse_json, pointer_of

_Handler = Callable[[Request], Coroutine[Any, Any, Response]]
_Model = TypeVar("_Model", bound=BaseModel)


class AskedRoute(APIRoute):
    """A route that refuses parameters that it does not know, and what no answer of it satisfies."""

    def get_route_handler(self) -> _Handler:
        handle = super().get_route_handler()
        # Names to whether a parameter may come several times.
        known = {
            parameter.alias: takes_several(parameter.field_info.annotation)
            for parameter in _query_parameters(self.dependant)
        }
        offered = offered_types(self)
        reads_json = self.body_field is not None

        async def asked(request: Request) -> Response:
            if request.scope["query_string"] or known:
                check_query(request.query_params.multi_items(), known)
            headers = request.headers
            if offered and "accept" in headers:
                accepted(request, offered)
            if reads_json and "content-type" in headers:
                sent_type(request, ("application/json",))
            return await handle(request)

        return asked


def check_query(given: Sequence[tuple[str, str]], known: Mapping[str, bool]) -> None:
    """Refuse parameters that are not known, or that come twice where one is meant.

    Args:
        given: names and values as sent.
        known: the names that the route takes, and whether each may come several times.

    Raises:
        Mistakes: names each of them.
    """
    wrong: list[BadRequest] = []
    for name, times in Counter(name for name, _ in given).items():
        if name not in known:
            wrong.append(unknown_name(name, tuple(known), "parameter", pointer=name))
        elif times > 1 and not known[name]:
            wrong.append(
                BadRequest(
                    f"The parameter {name!r} is given {times} times, and takes one value.",
                    pointer=name,
                    next_step="Keep the one that is meant, and ask for each value apart.",
                )
            )
    if wrong:
        raise Mistakes(wrong)


def read_body(body: bytes, model: type[_Model]) -> _Model:
    """A JSON body as a model.

    Raises:
        BadRequest: not JSON.
        Mistakes: names each part that the model does not take, with its pointer.
    """
    document = parse_json(body)
    try:
        return model.model_validate(document)
    except ValidationError as error:
        known = tuple(field.alias or name for name, field in model.model_fields.items())
        raise Mistakes(
            [
                unknown_name(str(part["loc"][-1]), known, "key", pointer=pointer_of(part["loc"]))
                if part["type"] == "extra_forbidden"
                else BadRequest(
                    str(part["msg"]).removeprefix("Value error, "), pointer=pointer_of(part["loc"])
                )
                for part in error.errors(include_url=False, include_input=False)
            ]
        ) from error


def refuse_beside_body(names: Iterable[str]) -> None:
    """Refuse parameters beside a JSON body: either the one or the other would be passed over."""
    wrong = [
        BadRequest(
            f"The parameter {name!r} goes with a table; a JSON body has its own key.",
            pointer=name,
            next_step="Write it in the body.",
        )
        for name in names
    ]
    if wrong:
        raise Mistakes(wrong)


def unknown_name(name: str, known: Sequence[str], what: str, *, pointer: str) -> BadRequest:
    """The mistake of a name that is not known, with the nearest that is.

    >>> unknown_name("acts", ["label", "act"], "parameter", pointer="acts").detail
    "The parameter 'acts' is not known; acts: did you mean act?"
    """
    near = get_close_matches(name.casefold(), known, n=1)
    shown = name if len(name) <= 80 else f"{name[:80]}..."
    hint = f"; {shown}: did you mean {near[0]}?" if near else "."
    return BadRequest(
        f"The {what} {shown!r} is not known{hint}",
        pointer=pointer,
        next_step=f"Known here: {', '.join(known)}." if known else "Leave it out.",
    )


def _query_parameters(dependant: Dependant) -> Iterator[ModelField]:
    yield from dependant.query_params
    for needed in dependant.dependencies:
        yield from _query_parameters(needed)


def takes_several(annotation: object) -> bool:
    """Whether a parameter of this type may come several times."""
    origin = get_origin(annotation)
    if origin in (Union, UnionType):
        return any(takes_several(part) for part in get_args(annotation))
    return origin in (list, tuple, set) or annotation in (list, tuple, set)
