"""Counts of one file while it is read."""

from collections import Counter, defaultdict
from dataclasses import dataclass, field

from data_loaders.occurrences.report import OTHER_PLANTS, Note, Reason


@dataclass
class Tally:
    """Every row read is either kept or set apart for one reason."""

    rows_read: int = 0
    rows_kept: int = 0
    set_apart: Counter[Reason] = field(default_factory=Counter)
    notes: Counter[Note] = field(default_factory=Counter)
    examples: defaultdict[Reason, list[str]] = field(default_factory=lambda: defaultdict(list))
    undelivered: int = 0
    others: Counter[str] = field(default_factory=Counter)

    def most_frequent_others(self) -> tuple[tuple[str, int], ...]:
        """Names that are not of the store, most frequent first, then by letters."""
        return tuple(
            sorted(self.others.items(), key=lambda pair: (-pair[1], pair[0]))[:OTHER_PLANTS]
        )
