"""How much of the law is loaded here, jurisdiction by jurisdiction: lists, how completely, what
share was read, how old the readings are.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.regulation.holdings import coverage_of
from service.regulation.law import Completeness, InstrumentKind, LawBook, ListVersion
from service.values.vocabulary import JURISDICTION_NAMES, Coverage, HowKnown, Jurisdiction, ListId


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
