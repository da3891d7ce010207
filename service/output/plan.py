"""The forms in which a plan's answer goes out, beside JSON: table, map, printable report."""

from service.checks.plan.values import PlanAnswer
from service.output.plan_geojson import plan_layers, write_plan_map
from service.output.plan_table import write_plan_table
from service.store.library import Library

CALENDAR = "text/calendar"
JSON, HTML, GEOJSON, CSV = "application/json", "text/html", "application/geo+json", "text/csv"
"""Media types of an answer, the plain one first."""
GEOPACKAGE = "application/geopackage+sqlite3"


def plan_geopackage(answer: PlanAnswer) -> bytes:
    """Site, places, plantings and waters as layers of one file."""
    # Late: GDAL is asked for seldom, and slow to import.
    from service.output.geopackage import geopackage

    return geopackage(plan_layers(answer), answer.as_of)


def write_plan(
    library: Library, answer: PlanAnswer, media_type: str, *, brief: bool = False
) -> str:
    """The answer in one of the forms that are text and not JSON.

    Args:
        brief: of the report, the two pages for the client alone.
    """
    if media_type == CSV:
        return write_plan_table(answer)
    if media_type == GEOJSON:
        return write_plan_map(answer)
    if media_type == CALENDAR:
        # Late: a calendar is asked for seldom, and its library is slow to import.
        from service.output.icalendar import write_calendar

        return write_calendar(answer)
    # Late: templates are read for a report alone, and the report reads the answer values of this
    # package.
    from service.output.html.report import report_of

    return report_of(library, answer, brief=brief)
