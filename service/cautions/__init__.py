"""Cautions: one line each, beside the plant, measure or site that it concerns, and a short box
for reports.
"""

from service.cautions.lookup import Caution, cautions_for, general_cautions
from service.cautions.parameters import Scope, Work

__all__ = ["Caution", "Scope", "Work", "cautions_for", "general_cautions"]
