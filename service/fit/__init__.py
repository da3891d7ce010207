"""Fit: would the plant live in this position, and how much of the water would it cover."""

from service.fit.cover import closest_spacing_m2, cover
from service.fit.fitting import fit
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
    "closest_spacing_m2",
    "cover",
    "fit",
    "site_zones",
]
