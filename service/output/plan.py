"""The forms in which a plan's answer goes out, beside JSON: table, map, printable report."""

from service.checks.plan.values import PlanAnswer
from service.output.plan_geojson import write_plan_map
from service.output.plan_table import write_plan_table
from service.store.library import Library

JSON, HTML, GEOJSON, CSV = "application/json", "text/html", "application/geo+json", "text/csv"
"""Media types of an answer, the plain one first."""


def write_plan(library: Library, answer: PlanAnswer, media_type: str) -> str:
    """The answer in one of the forms that are not JSON."""
    if media_type == CSV:
        return write_plan_table(answer)
    if media_type == GEOJSON:
        return write_plan_map(answer)
    # Late: templates are read for a report alone, and the report reads the answer values of this
    # package.
    from service.output.html.report import report_of

    return report_of(library, answer)
