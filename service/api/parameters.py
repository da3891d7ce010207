"""What routes are given: the library of the present build, and request parameters checked and
turned into domain values.
"""

import re
from collections.abc import Sequence
from contextvars import ContextVar
from datetime import UTC, date, datetime
from typing import Annotated, Any

from fastapi import Depends, Query, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import AfterValidator, BeforeValidator, WithJsonSchema

from service.errors import BadRequest, UnknownValue
from service.store.library import Library, LibraryDesk
from service.values.vocabulary import ACTS, JURISDICTION_NAMES, Act, CountyFips, Jurisdiction


def desk(request: Request) -> LibraryDesk:
    """The handle on the store."""
    found: LibraryDesk = request.app.state.desk
    return found


async def library(request: Request) -> Library:
    """The library of the build in place when the request came; the request keeps it to its end."""
    pinned: Library | None = getattr(request.state, "library", None)
    return pinned if pinned is not None else await run_in_threadpool(desk(request).current)


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


_day: ContextVar[date | None] = ContextVar("day", default=None)


def pin_day() -> datetime:
    """Hold the present day (UTC) for the rest of the request, so that no answer is of two days.

    Returns the moment.
    """
    now = datetime.now(UTC)
    _day.set(now.date())
    return now


def today() -> date:
    """The day in UTC, which answers are for unless they name another."""
    return _day.get() or datetime.now(UTC).date()


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

The contract names the codes; lower case and a state's two letters alone are taken too.
"""
ActText = Annotated[
    str, AfterValidator(_not_blank), WithJsonSchema({"type": "string", "enum": list(ACTS)})
]
POSITION_SCHEMA: dict[str, Any] = {
    "pattern": r"^-?(180|1[0-7][0-9](\.[0-9]{1,9})?|[0-9]{1,2}(\.[0-9]{1,9})?),-?(90|[0-8]?[0-9](\.[0-9]{1,9})?)$"
}


def jurisdiction(value: str, pointer: str = "jurisdiction") -> Jurisdiction:
    """A jurisdiction code.

    Raises:
        UnknownValue: not ``US`` or an ISO 3166-2 code of a state.
    """
    code = value.strip().upper()
    code = f"US-{code}" if len(code) == 2 and code != "US" else code
    if code not in JURISDICTION_NAMES:
        raise UnknownValue("Jurisdiction", value, list(JURISDICTION_NAMES), pointer=pointer)
    return Jurisdiction(code)


def jurisdictions(values: Sequence[str], pointer: str = "jurisdiction") -> tuple[Jurisdiction, ...]:
    """Several jurisdictions, each once, given apart or parted by commas."""
    codes = [code for value in values for code in value.split(",") if code.strip()]
    return tuple(dict.fromkeys(jurisdiction(code, pointer) for code in codes))


def acts(values: Sequence[str], pointer: str = "act", *, default: Act = "sell") -> tuple[Act, ...]:
    """Several acts, each once; ``sell`` if none is given.

    Raises:
        UnknownValue: an act outside the vocabulary.
    """
    asked = [act.strip().lower() for value in values for act in value.split(",") if act.strip()]
    return tuple(dict.fromkeys(_act(act, pointer) for act in asked)) or (default,)


def _act(value: str, pointer: str) -> Act:
    for act in ACTS:
        if act == value:
            return act
    raise UnknownValue("Act", value, ACTS, pointer=pointer)


def county(
    library: Library, state: Jurisdiction, text: str | None, pointer: str = "county"
) -> CountyFips | None:
    """A county of the state by name or FIPS code.

    Raises:
        UnknownValue: no county of the state bears it.
    """
    if not text:
        return None
    try:
        return library.counties.find(state, text).fips
    except UnknownValue as error:
        error.pointer = pointer
        raise


def position(text: str, pointer: str = "near") -> tuple[float, float]:
    """Longitude and latitude in WGS84 degrees from ``longitude,latitude``.

    Raises:
        BadRequest: not two numbers, or outside the globe.
    """
    try:
        longitude, latitude = (float(part) for part in text.split(","))
    except ValueError as error:
        raise BadRequest(
            f"{text!r} is no position.",
            pointer=pointer,
            next_step="Give longitude,latitude, such as -84.80,41.70.",
        ) from error
    if not (-180 <= longitude <= 180 and -90 <= latitude <= 90):
        swapped = -180 <= latitude <= 180 and -90 <= longitude <= 90
        hint = (
            "Longitude comes first; these look swapped."
            if swapped
            else "Longitude is -180 to 180, latitude -90 to 90."
        )
        raise BadRequest(f"{text!r} is not on the globe.", pointer=pointer, next_step=hint)
    return longitude, latitude
