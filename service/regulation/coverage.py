"""How much of the law is loaded here, jurisdiction by jurisdiction: lists, how completely, what
share was read, how old the readings are.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.regulation.law import (
    Completeness,
    InstrumentKind,
    LawBook,
    ListVersion,
    Office,
    Topic,
    cached_by_book,
)
from service.values.vocabulary import (
    JURISDICTION_NAMES,
    Act,
    Coverage,
    HowKnown,
    Jurisdiction,
    ListId,
)

_APART = re.compile(r";\s(?![^(]*\))")
"""Between two authorities; not within the brackets that name their law."""

_TOPIC: dict[Act, Topic] = {
    "import": "trade",
    "export": "trade",
    "sell": "trade",
    "buy": "trade",
    "give": "trade",
    "transport": "trade",
    "propagate": "trade",
    "possess": "waters",
    "plant": "waters",
    "release": "waters",
}
"""Nursery inspection looks after what is grown and moved for sale; the wildlife or environment
agency after what is kept and put into water. Common practice, no source.
"""


def state_law_in_force(
    law: LawBook, jurisdiction: Jurisdiction, on: date
) -> tuple[ListVersion, ...]:
    """Lists of a jurisdiction in force on a day, without its counties' and towns' and own rules."""
    return tuple(
        version
        for version in law.lists_of(jurisdiction)
        if version.is_law and version.kind != "ordinance" and version.in_force(on)
    )


def coverage_of(law: LawBook, jurisdiction: Jurisdiction, on: date) -> Coverage:
    """How completely the lists of a jurisdiction that are in force are loaded.

    A list that breaks off leaves the whole ``partial``. A jurisdiction whose lists name no plant,
    and are not known to be complete, counts as none. An ordinance of a county or town says nothing
    of how completely the law of its state is loaded, so it does not count.

    >>> coverage_of(LawBook(()), Jurisdiction("US-OH"), date(2026, 6, 1))
    'none'
    """
    in_force = state_law_in_force(law, jurisdiction, on)
    if not in_force:
        return "none"
    if all(version.completeness == "complete" for version in in_force):
        return "complete"
    reaches_plants = any(
        version.entries or any(rule.every_aquatic_plant for rule in version.classes)
        for version in in_force
    )
    return "partial" if reaches_plants else "none"


def confirm_with(law: LawBook, jurisdiction: Jurisdiction, act: Act) -> str:
    """Whom to ask about an act: the office for its topic with its address, else the authorities of
    the lists loaded, else in general words.
    """
    office = next(
        (
            office
            for office in law.offices
            if (office.jurisdiction, office.topic) == (jurisdiction, _TOPIC[act])
        ),
        None,
    )
    if office is not None:
        return _with_address(office)
    named = [version.authority for version in law.lists_of(jurisdiction) if version.is_law]
    authorities = sorted(
        {part.strip() for authority in named for part in _APART.split(authority) if part.strip()}
    )
    if authorities:
        return "; ".join(authorities)
    return (
        "the department of agriculture and the wildlife or environment agency of "
        f"{JURISDICTION_NAMES[jurisdiction]}"
    )


def _with_address(office: Office) -> str:
    if not office.url:
        return office.name
    said = "" if office.url_known == "read" else ", address from memory, not opened"
    return f"{office.name} ({office.url}{said})"


@dataclass(frozen=True, slots=True)
class ListHolding:
    """One list in force.

    Attributes:
        entries_read: entries that were seen in the text.
        read_copy_date: of the copy, as precise as known (``2019``, ``2015-04``, ``2024-05-16``);
            empty for a copy without a date.
    """

    list_id: ListId
    title: str
    citation: str
    authority: str
    kind: InstrumentKind
    completeness: Completeness
    how_known: HowKnown
    effective_from: date | None
    amended: date | None
    entries: int
    entries_read: int
    read_copy_date: str
    url: str


@dataclass(frozen=True, slots=True)
class JurisdictionCoverage:
    """What is loaded of one jurisdiction.

    Attributes:
        coverage: ``none`` also where lists are loaded without the plants that they name.
        lists: of the jurisdiction itself.
        ordinances: of counties and towns in it; they count in nothing else here.
        oldest_reading: date of the oldest dated copy, as precise as known; empty when no copy has
            a date.
        undated_copies: lists read in copies without a date, which may be older still.
    """

    jurisdiction: Jurisdiction
    name: str
    coverage: Coverage
    lists: tuple[ListHolding, ...]
    ordinances: tuple[ListHolding, ...]
    entries: int
    entries_read: int
    oldest_reading: str
    undated_copies: int

    @property
    def share_read(self) -> float | None:
        """Share of the entries that were seen in the text, 0 to 1; None without entries."""
        return self.entries_read / self.entries if self.entries else None


def coverage_table(law: LawBook, on: date) -> tuple[JurisdictionCoverage, ...]:
    """Every jurisdiction, federal law first, then the states by name.

    Rules that are no law are left out.
    """
    return tuple(_jurisdiction(law, jurisdiction, on) for jurisdiction in JURISDICTION_NAMES)


def _jurisdiction(law: LawBook, jurisdiction: Jurisdiction, on: date) -> JurisdictionCoverage:
    in_force = [
        version for version in law.lists_of(jurisdiction) if version.is_law and version.in_force(on)
    ]
    lists = [_holding(version) for version in in_force if version.kind != "ordinance"]
    return JurisdictionCoverage(
        jurisdiction=jurisdiction,
        name=JURISDICTION_NAMES[jurisdiction],
        coverage=coverage_of(law, jurisdiction, on),
        lists=tuple(lists),
        ordinances=tuple(_holding(version) for version in in_force if version.kind == "ordinance"),
        entries=sum(holding.entries for holding in lists),
        entries_read=sum(holding.entries_read for holding in lists),
        oldest_reading=_oldest(lists),
        undated_copies=sum(not holding.read_copy_date for holding in lists),
    )


def _oldest(lists: Sequence[ListHolding]) -> str:
    # A date known to the year alone sorts before any day of that year: it may be that old.
    return min((holding.read_copy_date for holding in lists if holding.read_copy_date), default="")


def _holding(version: ListVersion) -> ListHolding:
    return ListHolding(
        list_id=version.list_id,
        title=version.title,
        citation=version.citation,
        authority=version.authority,
        kind=version.kind,
        completeness=version.completeness,
        how_known=version.how_known,
        effective_from=version.effective_from,
        amended=version.amended,
        entries=len(version.entries),
        entries_read=sum(entry.how_known == "read" for entry in version.entries),
        read_copy_date=version.read_copy_date,
        url=version.url,
    )


@dataclass(frozen=True, slots=True)
class StateStanding:
    """What is loaded of the law of one jurisdiction on a day.

    Attributes:
        share_read: share of the entries that were seen in the text, 0 to 1; None without entries.
        truncated: lists whose copy breaks off, or that have a later version not loaded.
        phrase: all of it for a person: ``Texas: 3% of the entries read, list breaks off``.
    """

    jurisdiction: Jurisdiction
    coverage: Coverage
    share_read: float | None
    truncated: int
    phrase: str


@cached_by_book(most=4_000)
def standing_of(law: LawBook, jurisdiction: Jurisdiction, on: date) -> StateStanding:
    """What is loaded of the law of a jurisdiction on a day, without ordinances and own rules.

    >>> standing_of(LawBook(()), Jurisdiction("US-TX"), date(2026, 6, 1)).phrase
    'Texas: no list loaded'
    """
    in_force = state_law_in_force(law, jurisdiction, on)
    entries = [entry for version in in_force for entry in version.entries]
    read = sum(entry.how_known == "read" for entry in entries)
    truncated = sum(version.completeness == "truncated" for version in in_force)
    coverage = coverage_of(law, jurisdiction, on)
    said = [
        *([_share(read, len(entries))] if entries else []),
        _completeness(coverage, truncated, len(in_force), bool(entries)),
    ]
    return StateStanding(
        jurisdiction=jurisdiction,
        coverage=coverage,
        share_read=read / len(entries) if entries else None,
        truncated=truncated,
        phrase=f"{JURISDICTION_NAMES[jurisdiction]}: {', '.join(said)}",
    )


def _share(read: int, entries: int) -> str:
    """Rounded, but ``all`` and ``none`` only where it is so."""
    if read == entries:
        return "all entries read"
    if not read:
        return "no entry read"
    percent = min(99, max(1, round(100 * read / entries)))
    return f"{percent}% of the entries read"


def _completeness(coverage: Coverage, truncated: int, lists: int, has_entries: bool) -> str:
    if truncated:
        if lists == 1:
            return "list breaks off"
        return f"{truncated} of {lists} lists break{'s' if truncated == 1 else ''} off"
    if coverage == "complete":
        return f"list{'s' if lists > 1 else ''} complete"
    if coverage == "none":
        return "no list loaded with its plants" if lists and not has_entries else "no list loaded"
    return f"list{'s' if lists > 1 else ''} in part"
