"""What a load did: every row read is either kept or set apart for one stated reason."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

Reason = Literal[
    "no-name",
    "doubtful-name",
    "not-of-store",
    "fossil-or-living-collection",
    "absent",
    "unreadable-status",
    "no-coordinates",
    "unreadable-coordinates",
    "zero-coordinates",
    "swapped-coordinates",
    "coordinates-out-of-range",
    "flagged-coordinates",
    "uncertainty-too-large",
    "captive-or-cultivated",
    "duplicate",
]
REASONS: tuple[Reason, ...] = get_args(Reason)
"""In the order in which they are looked for; a row bears the first that fits."""

REASON_MEANINGS: dict[Reason, str] = {
    "no-name": "the row names no plant",
    "doubtful-name": "the publisher matched the name loosely, and the name as written is not of the store",
    "not-of-store": "the plant is not one of the store's, by accepted name or synonym",
    "fossil-or-living-collection": "a fossil, or a plant of a living collection",
    "absent": "the record says that the plant was not found",
    "unreadable-status": "an occurrence status of no known vocabulary, or one that contradicts the count",
    "no-coordinates": "no latitude or no longitude",
    "unreadable-coordinates": "coordinates that are no plain decimal degrees (decimal comma, minutes, words)",
    "zero-coordinates": "latitude and longitude both zero",
    "swapped-coordinates": "latitude and longitude changed places, or flagged so by the publisher",
    "coordinates-out-of-range": "latitude beyond 90 or longitude beyond 180 degrees",
    "flagged-coordinates": "the publisher flags the coordinates",
    "uncertainty-too-large": "the coordinates are vaguer than asked",
    "captive-or-cultivated": "planted or kept, so no escape",
    "duplicate": "the same record of the same data set is held already",
}

Note = Literal["matched-by-species-column", "uncertainty-unreadable", "year-unknown", "other-datum"]
NOTES: tuple[Note, ...] = get_args(Note)
"""Counted among the kept rows; none of them sets a row apart."""

NOTE_MEANINGS: dict[Note, str] = {
    "matched-by-species-column": "the name itself is not of the store; the species that its publisher files it under is",
    "uncertainty-unreadable": "the coordinate uncertainty is zero or no number, so it counts as not stated",
    "year-unknown": "no year is stated, or the record spans years, or its dates contradict each other",
    "other-datum": "coordinates in another datum than WGS84 or NAD83, or in an unknown one, kept as written: off by up to"
    " some hundred metres",
}

EXAMPLES = 3
OTHER_PLANTS = 20


@dataclass(frozen=True, slots=True)
class QualityRules:
    """What the asker decides.

    Attributes:
        max_uncertainty_m: records with vaguer coordinates are set apart. The default is the largest
            ring of the evidence: vaguer records place a plant in no ring. Common practice, no
            source.
    """

    max_uncertainty_m: float = 100_000.0


@dataclass(frozen=True, slots=True)
class LoadProgress:
    """How far a load has come.

    Attributes:
        done: of ``file``'s work, 0 to 1.
        rows_per_s: over the file so far.
        seconds_left: for this file; None while there is no telling.
    """

    file: str
    stage: Literal["checking", "reading", "sorting", "storing", "fetching"]
    rows: int
    done: float
    rows_per_s: float
    seconds_left: float | None


Progress = Callable[[LoadProgress], None]


@dataclass(frozen=True, slots=True)
class FileReport:
    """One file, or one live request.

    Attributes:
        already_loaded: the same content went in before under the same rules, and was not read
            again.
        set_apart: every reason that set a row apart, with its count.
        notes: remarks on kept rows, with their counts.
        examples: for each reason the first records it set apart, by occurrence id where they have
            one.
        undelivered: records that a live interface announced and did not give.
        other_plants: names that are not of the store, most frequent first, with their rows.
    """

    file: str
    source_id: str
    sha256: str
    rows_read: int
    rows_kept: int
    set_apart: Mapping[Reason, int] = field(default_factory=dict)
    notes: Mapping[Note, int] = field(default_factory=dict)
    examples: Mapping[Reason, tuple[str, ...]] = field(default_factory=dict)
    other_plants: tuple[tuple[str, int], ...] = ()
    already_loaded: bool = False
    undelivered: int = 0

    def to_json(self) -> str:
        """For the ``report`` column of the source table."""
        return json.dumps(
            {
                "set_apart": {
                    reason: self.set_apart[reason] for reason in REASONS if reason in self.set_apart
                },
                "notes": {note: self.notes[note] for note in NOTES if note in self.notes},
                "examples": {
                    reason: list(self.examples[reason])
                    for reason in REASONS
                    if reason in self.examples
                },
                "undelivered": self.undelivered,
                "other_plants": [list(pair) for pair in self.other_plants],
            },
            ensure_ascii=False,
        )


@dataclass(frozen=True, slots=True)
class OccurrenceReport:
    """All files of one load."""

    files: tuple[FileReport, ...]

    @property
    def rows_read(self) -> int:
        return sum(report.rows_read for report in self.files)

    @property
    def rows_kept(self) -> int:
        return sum(report.rows_kept for report in self.files)

    @property
    def set_apart(self) -> dict[Reason, int]:
        """Summed over the files, in the order of ``REASONS``."""
        sums = {
            reason: sum(report.set_apart.get(reason, 0) for report in self.files)
            for reason in REASONS
        }
        return {reason: count for reason, count in sums.items() if count}
