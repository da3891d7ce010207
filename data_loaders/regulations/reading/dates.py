"""Days that a text names: in force, amended, history notes."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

DayKind = Literal["effective", "amended", "adopted", "repealed"]

_MONTHS = {
    name: number
    for number, names in enumerate(
        [
            "january jan",
            "february feb",
            "march mar",
            "april apr",
            "may",
            "june jun",
            "july jul",
            "august aug",
            "september sept sep",
            "october oct",
            "november nov",
            "december dec",
        ],
        1,
    )
    for name in names.split()
}
_CUE = re.compile(
    r"\b(?P<effective>effective|eff\.|in\s+force|takes?\s+effect)|\b(?P<amended>amended|am\.|amd\.|amends?|revised"
    r"|last\s+updated|updated)|\b(?P<adopted>adopted|cr\.|created|enacted|filed)|\b(?P<repealed>repealed|rescinded)",
    re.IGNORECASE,
)
_DAY = re.compile(
    r"(?P<iso>(?P<y1>(?:19|20)\d\d)-(?P<m1>\d\d)-(?P<d1>\d\d))"
    r"|(?P<num>(?P<m2>\d{1,2})[-/](?P<d2>\d{1,2})[-/](?P<y2>(?:19|20)?\d\d))(?!\d)"
    r"|(?P<word>(?P<m3>[A-Za-z]{3,9})\.?\s+(?P<d3>\d{1,2})(?:st|nd|rd|th)?,?\s+(?P<y3>(?:19|20)\d\d))"
    r"|(?P<euro>(?P<d4>\d{1,2})\s+(?P<m4>[A-Za-z]{3,9})\.?\s+(?P<y4>(?:19|20)\d\d))"
)
_REACH = 60
"""Letters between a word such as "effective" and its day."""


@dataclass(frozen=True, slots=True)
class NamedDay:
    """A day with the word that says what it is."""

    kind: DayKind
    day: date
    start: int
    end: int


def days_in(text: str) -> Iterator[NamedDay]:
    """The days of a text that a word such as "effective" or "amended" stands before."""
    for cue in _CUE.finditer(text):
        kind: DayKind = next(
            kind for kind in ("effective", "amended", "adopted", "repealed") if cue.group(kind)
        )
        found = _DAY.search(text, cue.end(), min(len(text), cue.end() + _REACH))
        if found is None or _CUE.search(text, cue.end(), found.start()):
            continue
        day = _day(found)
        if day is not None:
            yield NamedDay(kind, day, cue.start(), found.end())


def _day(found: re.Match[str]) -> date | None:
    for number in "1234":
        year, month, day = (found.group(f"{part}{number}") for part in "ymd")
        if year is None:
            continue
        month_number = int(month) if month.isdigit() else _MONTHS.get(month.lower(), 0)
        full = (
            int(year)
            if len(year) == 4
            else 1900 + int(year)
            if int(year) > 50
            else 2000 + int(year)
        )
        try:
            return date(full, month_number, int(day))
        except ValueError:
            return None
    return None
