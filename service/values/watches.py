"""A watch over a stock list: what is kept of it from run to run."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from service.values.vocabulary import Act, CountyFips, Jurisdiction, Outcome

ChangeKind = Literal["law", "names", "own-list"]
"""What changed: the lists loaded, which plant the label is read as, or the stock list itself."""


@dataclass(frozen=True, slots=True)
class Ground:
    """An entry that a finding rests on, as far as a change of it is a change of law."""

    list_id: str
    title: str
    class_name: str
    name_as_listed: str
    exceptions: str
    area: str
    condition: str
    acts: tuple[Act, ...]
    permit: str
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class PlaceState:
    """What was found for one act in one place; ``origin`` where it is a shipment from there."""

    jurisdiction: Jurisdiction
    act: str
    outcome: Outcome
    grounds: tuple[Ground, ...] = ()


@dataclass(frozen=True, slots=True)
class LineState:
    """One line of the stock.

    Attributes:
        plants: accepted names that it may mean.
        state: place in ``Snapshot.states``; lines that mean the same share it.
    """

    label: str
    common: str
    plants: tuple[str, ...]
    confirmed: bool
    state: int


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What was found for every line, on a day, in a build of the store."""

    on: date
    store_build: str
    lines: tuple[LineState, ...]
    states: tuple[tuple[PlaceState, ...], ...]


@dataclass(frozen=True, slots=True)
class Watch:
    """A stock list and the places that it ships to.

    Attributes:
        file: path of the stock list, read anew at each run.
        last: what the last run found.
    """

    name: str
    file: str
    jurisdictions: tuple[Jurisdiction, ...]
    acts: tuple[Act, ...]
    last: Snapshot
    origin: Jurisdiction | None = None
    county: CountyFips | None = None
    column: str = ""
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class LineChange:
    """What changed for one line, and why, a sentence each."""

    label: str
    kinds: tuple[ChangeKind, ...]
    reasons: tuple[str, ...]
