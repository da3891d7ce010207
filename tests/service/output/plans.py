"""Plans on the invented county that the tests of this folder share, answered once."""

from datetime import date
from functools import cache
from typing import Any

from service.checks.plan.check import check_plan
from service.checks.plan.values import PlanAnswer
from service.input.json_document import parse_json
from service.input.plan import read_plan
from service.output.html.report import report_of
from tests.service.demo_stores import HERON_BEND, PLAN, demo_library

ON = date(2026, 6, 1)
POINT = {"type": "Point", "coordinates": list(HERON_BEND)}


def answer_of(document: dict[str, Any]) -> PlanAnswer:
    return check_plan(demo_library(), read_plan(document), on=ON)


@cache
def demo_answer() -> PlanAnswer:
    return answer_of(parse_json(PLAN.read_bytes()))


@cache
def demo_report() -> str:
    return report_of(demo_library(), demo_answer())
