"""Substitutes: natives of like use and size that pass the same check in the same place."""

from service.substitutes.choosing import (
    CandidateFacts,
    Substitute,
    Substitutes,
    alike,
    choose,
    why_not,
)
from service.substitutes.likeness import Distance, distance_between

__all__ = [
    "CandidateFacts",
    "Distance",
    "Substitute",
    "Substitutes",
    "alike",
    "choose",
    "distance_between",
    "why_not",
]
