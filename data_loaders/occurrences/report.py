"""Why a record is set apart, what is remarked on a kept one, and what the asker decides."""

from dataclasses import dataclass
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
    "place-and-not-plant",
    "uncertainty-too-large",
    "captive-or-cultivated",
    "duplicate",
]
REASONS: tuple[Reason, ...] = get_args(Reason)
"""In the order in which they are looked for; a row is set apart for the first that fits."""

REASON_MEANINGS: dict[Reason, str] = {
    "no-name": "the row names no plant",
    "doubtful-name": "the publisher matched the name loosely, and the name as written is not of"
    " the store",
    "not-of-store": "the plant is not one of the store's, by accepted name or synonym",
    "fossil-or-living-collection": "a fossil, or a plant of a living collection",
    "absent": "the record says that the plant was not found",
    "unreadable-status": "an occurrence status of no known vocabulary, or one that contradicts"
    " the count",
    "no-coordinates": "no latitude or no longitude",
    "unreadable-coordinates": "coordinates that are no plain decimal degrees (decimal comma,"
    " minutes, words)",
    "zero-coordinates": "latitude and longitude both zero",
    "swapped-coordinates": "latitude and longitude changed places, or flagged so by the publisher",
    "coordinates-out-of-range": "latitude beyond 90 or longitude beyond 180 degrees",
    "flagged-coordinates": "the publisher flags the coordinates",
    "place-and-not-plant": "the coordinates are the centre of a county, a state or the country,"
    " a capital, a garden or"
    " a herbarium",
    "uncertainty-too-large": "the coordinates are vaguer than asked",
    "captive-or-cultivated": "planted or kept, so no escape",
    "duplicate": "the same record of the same data set is loaded already",
}

Remark = Literal[
    "matched-by-species-column",
    "uncertainty-unreadable",
    "year-unknown",
    "datum-moved",
    "other-datum",
]
REMARKS: tuple[Remark, ...] = get_args(Remark)
"""Counted among the kept rows; none of them sets a row apart."""

REMARK_MEANINGS: dict[Remark, str] = {
    "matched-by-species-column": "the name itself is not of the store; the species that its"
    " publisher files it under is",
    "uncertainty-unreadable": "the coordinate uncertainty is zero or no number, so it counts as"
    " not stated",
    "year-unknown": "no year is stated, or the record spans years, or its dates contradict each"
    " other",
    "datum-moved": "coordinates of an older datum, brought to WGS84",
    "other-datum": "coordinates in a datum that is not known, kept as written: off by up to some"
    " hundred metres",
}


@dataclass(frozen=True, slots=True)
class QualityRules:
    """What the asker decides.

    Attributes:
        max_uncertainty_m: records with vaguer coordinates are set apart. The default is the largest
            ring of the evidence: vaguer records place a plant in no ring. Common practice, no
            source.
    """

    max_uncertainty_m: float = 100_000.0
