"""Dates of the season, as month and day."""

from datetime import date, timedelta

from service.errors import BadRequest

_YEAR = 2001
"""Any year of 365 days; only month and day matter."""


_MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]
"""In English whatever the language of the machine, so that answers are the same everywhere."""


def days_before(month_day: str, days: float, *, pointer: str = "/climate/first_frost") -> str:
    """``MM-DD`` so many whole days before ``month_day``.

    Raises:
        BadRequest: ``month_day`` is no ``MM-DD``.
    """
    try:
        start = date.fromisoformat(f"{_YEAR}-{month_day}")
    except ValueError as error:
        raise BadRequest(
            f"{month_day!r} is not a month and day.",
            pointer=pointer,
            next_step="Write it as MM-DD, such as 10-15.",
        ) from error
    return (start - timedelta(days=round(days))).strftime("%m-%d")


def day_in_words(month_day: str) -> str:
    """A day of any year, as people write it.

    >>> day_in_words("09-26")
    '26 September'
    """
    month, day = (int(part) for part in month_day.split("-"))
    return f"{day} {_MONTHS[month - 1]}"
