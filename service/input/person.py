"""What a person types, read once: states, a county, a position, acts, a day."""

import re
from collections.abc import Sequence
from contextvars import ContextVar
from datetime import UTC, date, datetime

from service.errors import BadRequest, UnknownValue
from service.geography.counties import CountyTable
from service.values.vocabulary import (
    ACTS,
    FEDERAL,
    JURISDICTION_NAMES,
    STATES,
    Act,
    CountyFips,
    Jurisdiction,
)

_ALL = "all"
_BY_NAME: dict[str, Jurisdiction] = {
    **{name.casefold(): code for code, name in JURISDICTION_NAMES.items()},
    "federal": FEDERAL,
    "united states": FEDERAL,
    "washington dc": Jurisdiction("US-DC"),
    "washington d.c.": Jurisdiction("US-DC"),
}


def read_jurisdiction(text: str, pointer: str = "jurisdiction") -> Jurisdiction:
    """A jurisdiction by its ISO 3166-2 code, with or without ``US-``, or by its name.

    >>> read_jurisdiction("US-OH"), read_jurisdiction("oh"), read_jurisdiction("new  york")
    ('US-OH', 'US-OH', 'US-NY')

    Raises:
        UnknownValue: neither federal law nor a state.
    """
    plain = " ".join(text.split())
    code = plain.upper()
    code = f"US-{code}" if len(code) == 2 and code != FEDERAL else code
    if code in JURISDICTION_NAMES:
        return Jurisdiction(code)
    if plain.casefold() in _BY_NAME:
        return _BY_NAME[plain.casefold()]
    raise UnknownValue("Jurisdiction", text, list(JURISDICTION_NAMES), pointer=pointer)


def read_state(text: str, pointer: str = "state") -> Jurisdiction:
    """A state or the District of Columbia, written as ``read_jurisdiction`` takes it.

    Raises:
        UnknownValue: it is not a state.
    """
    try:
        found = read_jurisdiction(text, pointer)
    except UnknownValue:
        found = FEDERAL
    if found == FEDERAL:
        raise UnknownValue("State", text, STATES, pointer=pointer)
    return found


def read_jurisdictions(
    values: Sequence[str], pointer: str = "jurisdiction"
) -> tuple[Jurisdiction, ...]:
    """Several jurisdictions, each once, given one by one or separated by commas.

    ``all`` is every state and the District of Columbia.

    >>> read_jurisdictions(["US-OH, Texas", "oh"])
    ('US-OH', 'US-TX')

    Raises:
        UnknownValue: one of them is not a jurisdiction.
    """
    found: dict[Jurisdiction, None] = {}
    for value in values:
        for part in value.split(","):
            if part.strip().casefold() == _ALL:
                found |= dict.fromkeys(STATES)
            elif part.strip():
                found[read_jurisdiction(part, pointer)] = None
    return tuple(found)


def read_county(
    counties: CountyTable, state: Jurisdiction, text: str | None, pointer: str = "county"
) -> CountyFips | None:
    """A county of the state by name or five-digit FIPS code; None where no text is given.

    Raises:
        UnknownValue: the state has no such county.
        BadRequest: of federal law.
    """
    if not text or not text.strip():
        return None
    if state == FEDERAL:
        raise BadRequest(
            "Federal law is not asked by county.",
            pointer=pointer,
            next_step="Leave the county out, or name its state.",
        )
    try:
        return counties.find(state, text).fips
    except UnknownValue as error:
        error.pointer = pointer
        raise


def read_position(text: str, pointer: str = "near") -> tuple[float, float]:
    """Longitude and latitude in WGS84 degrees from ``longitude,latitude``.

    >>> read_position("-84.80, 41.70")
    (-84.8, 41.7)

    Raises:
        BadRequest: not two numbers, or outside the globe.
    """
    try:
        longitude, latitude = (float(part) for part in text.replace(";", ",").split(","))
    except ValueError as error:
        raise BadRequest(
            f"{text!r} is not a valid position.",
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


def read_act(text: str, pointer: str = "act") -> Act:
    """One act, in any case.

    Raises:
        UnknownValue: an act outside the vocabulary.
    """
    plain = text.strip().lower()
    for act in ACTS:
        if act == plain:
            return act
    raise UnknownValue("Act", text, ACTS, pointer=pointer)


def read_acts(
    values: Sequence[str], pointer: str = "act", *, default: Act | None = "sell"
) -> tuple[Act, ...]:
    """Several acts, each once, given one by one or separated by commas; ``default`` if none is.

    >>> read_acts(["sell, Import", "sell"]), read_acts([])
    (('sell', 'import'), ('sell',))

    Raises:
        UnknownValue: an act outside the vocabulary.
    """
    named = [part for value in values for part in value.split(",") if part.strip()]
    acts = tuple(dict.fromkeys(read_act(part, pointer) for part in named))
    return acts or ((default,) if default is not None else ())


_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_day: ContextVar[date | None] = ContextVar("day", default=None)


def read_day(text: str, pointer: str = "on") -> date:
    """A day as RFC 3339 writes it, ``2026-06-01``.

    Raises:
        BadRequest: written otherwise, or no day of the calendar.
    """
    plain = text.strip()
    if _ISO_DAY.fullmatch(plain):
        try:
            return date.fromisoformat(plain)
        except ValueError:
            pass
    raise BadRequest(
        f"{text!r} is not a valid day.", pointer=pointer, next_step="Write it as 2026-06-01."
    )


def pin_day() -> datetime:
    """Keep the present day (UTC) for the rest of the request, so that no answer is of two days.

    Returns the moment.
    """
    now = datetime.now(UTC)
    _day.set(now.date())
    return now


def today() -> date:
    """The day in UTC, which answers are for unless they name another."""
    return _day.get() or datetime.now(UTC).date()
