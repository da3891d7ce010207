"""What routes are given: the library of the present build, and the types of request
parameters.
"""

import re
from datetime import date
from typing import Annotated, Any

from fastapi import Depends, Query, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import AfterValidator, BeforeValidator, WithJsonSchema

from service.store.library import Library, StoreHandle
from service.values.vocabulary import ACTS, JURISDICTION_NAMES


def store_handle(request: Request) -> StoreHandle:
    """The handle on the store."""
    found: StoreHandle = request.app.state.store
    return found


async def library(request: Request) -> Library:
    """The library of the build in place when the request came; the request keeps it to its end."""
    pinned: Library | None = getattr(request.state, "library", None)
    return pinned if pinned is not None else await run_in_threadpool(store_handle(request).current)


LibraryNow = Annotated[Library, Depends(library)]

Label = Annotated[
    str,
    Query(
        min_length=1,
        max_length=2_000,
        description="a plant label as it stands on a tag or list",
        examples=["Water hyacinth, 4in"],
    ),
]


def _written_out(value: object) -> object:
    # Without this a bare number would be taken for seconds since 1970.
    if not isinstance(value, date) and not (isinstance(value, str) and _ISO_DAY.fullmatch(value)):
        raise ValueError("write the day as 2026-06-01")
    return value


_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
Day = Annotated[date, BeforeValidator(_written_out)]
"""A day as RFC 3339 has it."""

AsOf = Annotated[
    Day | None,
    Query(description="the day to answer for; today (UTC) if not given", examples=["2026-06-01"]),
]


def _not_blank(value: str) -> str:
    if not value.strip():
        raise ValueError("is blank; leave it out")
    return value


JurisdictionText = Annotated[
    str,
    AfterValidator(_not_blank),
    WithJsonSchema({"type": "string", "enum": list(JURISDICTION_NAMES)}),
]
"""A jurisdiction as text.

The contract names the codes; lower case, a state's two letters alone and its name are taken too.
"""
ActText = Annotated[
    str, AfterValidator(_not_blank), WithJsonSchema({"type": "string", "enum": list(ACTS)})
]
_LONGITUDE = r"-?(180|1[0-7][0-9](\.[0-9]{1,9})?|[0-9]{1,2}(\.[0-9]{1,9})?)"
_LATITUDE = r"-?(90|[0-8]?[0-9](\.[0-9]{1,9})?)"
POSITION_SCHEMA: dict[str, Any] = {"pattern": f"^{_LONGITUDE},{_LATITUDE}$"}
