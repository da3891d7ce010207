"""Substitutes: like plants with no entry found here and a low chance of escape, natives first."""

from service.substitutes.choosing import (
    CandidateFacts,
    EscapeClass,
    Substitute,
    Substitutes,
    substitutes,
)
from service.substitutes.likeness import Distance, distance_between

__all__ = [
    "CandidateFacts",
    "Distance",
    "EscapeClass",
    "Substitute",
    "Substitutes",
    "distance_between",
    "substitutes",
]
