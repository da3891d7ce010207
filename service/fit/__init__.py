"""Fit: would the plant live in this position, and how much of the water would it cover."""

from service.fit.cover import cover, room_m2
from service.fit.fitting import fit, read_by_fit
from service.fit.values import DECIDING, Aspect, Change, Cover, Fit, SharePoint, Verdict, Winter
from service.fit.winter import site_zones

__all__ = [
    "DECIDING",
    "Aspect",
    "Change",
    "Cover",
    "Fit",
    "SharePoint",
    "Verdict",
    "Winter",
    "cover",
    "fit",
    "read_by_fit",
    "room_m2",
    "site_zones",
]
