"""Occurrence records from Darwin Core archives, delimited downloads, Parquet and the live
interface, into the store.
"""

from data_loaders.occurrences.live import LiveQuery, load_live, queries_for_plants
from data_loaders.occurrences.live_api import LiveSettings
from data_loaders.occurrences.load import load_occurrences
from data_loaders.occurrences.names import ExactMatcher, StoreNames
from data_loaders.occurrences.report import (
    REASON_MEANINGS,
    REASONS,
    REMARK_MEANINGS,
    QualityRules,
    Reason,
)
from data_loaders.polite import LiveError

__all__ = [
    "REASONS",
    "REASON_MEANINGS",
    "REMARK_MEANINGS",
    "ExactMatcher",
    "LiveError",
    "LiveQuery",
    "LiveSettings",
    "QualityRules",
    "Reason",
    "StoreNames",
    "load_live",
    "load_occurrences",
    "queries_for_plants",
]
