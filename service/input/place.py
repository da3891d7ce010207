"""A place as a person writes it: a state, several jurisdictions, a county, a position."""

from collections.abc import Sequence

from service.errors import BadRequest, UnknownValue
from service.geography.counties import CountyTable
from service.values.vocabulary import FEDERAL, JURISDICTION_NAMES, STATES, CountyFips, Jurisdiction

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
