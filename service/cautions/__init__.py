"""Cautions: one line each, beside the plant, measure or site that it concerns, and a short box
for reports.
"""

from service.cautions.lookup import Caution, Scope, Work, cautions_for, general_cautions

__all__ = ["Caution", "Scope", "Work", "cautions_for", "general_cautions"]
