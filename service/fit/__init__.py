"""Fit: would the plant live in this position, and how much of the water would it cover."""

from service.fit.cover import cover
from service.fit.fitting import fit
from service.fit.values import Aspect, Change, Cover, Fit, SharePoint, Verdict, Winter
from service.fit.winter import site_zones

__all__ = [
    "Aspect",
    "Change",
    "Cover",
    "Fit",
    "SharePoint",
    "Verdict",
    "Winter",
    "cover",
    "fit",
    "site_zones",
]
