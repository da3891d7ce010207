"""The year of a record, from ``eventDate`` (ISO 8601-1) and ``year``, as the publisher's
interpretation has it.

A date range over several years, or two terms that contradict each other, leave the year open.
"""

import re

from data_loaders.occurrences.terms import FIRST_YEAR, LAST_YEAR, YEAR_PATTERN

EVENT_START_PATTERN = rf"^({YEAR_PATTERN})(-[0-9][0-9].*|/.*|T.*|)$"
EVENT_END_PATTERN = rf"^[^/]*/({YEAR_PATTERN})(-.*|T.*|)$"
_START = re.compile(EVENT_START_PATTERN)
_END = re.compile(EVENT_END_PATTERN)
_YEAR = re.compile(YEAR_PATTERN)


def year_of(event_date: str, year: str) -> int | None:
    """Calendar year of a record, None where it is not stated or not one year."""
    stated = _within(year) if _YEAR.fullmatch(year) else None
    start = _START.match(event_date)
    if not start:
        return stated
    end = _END.match(event_date)
    if end and end[1] != start[1]:
        return None
    dated = _within(start[1])
    return dated if stated is None or stated == dated else None


def _within(year: str) -> int | None:
    return int(year) if FIRST_YEAR <= int(year) <= LAST_YEAR else None
