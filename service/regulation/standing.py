"""How far the law of a jurisdiction can be relied on here, in one plain phrase beside an answer:
the share of its entries that was read in the text, and whether its lists are complete.
"""

from dataclasses import dataclass
from datetime import date

from service.regulation.cache import cached_by_book
from service.regulation.holdings import coverage_of, state_law_in_force
from service.regulation.law import LawBook
from service.values.vocabulary import JURISDICTION_NAMES, Coverage, Jurisdiction


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


@cached_by_book
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
