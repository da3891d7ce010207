"""The verdicts that an expert wrote down beforehand, plan by plan; see the folder's README."""

import tomllib
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from service.checks.plan.check import check_plan
from service.checks.plan.values import PlanAnswer
from service.input.plan import read_plan
from service.store.library import Library

FOLDER = Path(__file__).parent / "expert_plans"
PLANS = sorted(path.stem for path in FOLDER.glob("[0-9]*.toml"))
ON = date(2026, 6, 1)


@cache
def document(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


def answer(library: Library, name: str) -> PlanAnswer:
    plan = document(name)
    plantings = [
        {key: value for key, value in planting.items() if key not in ("expected", "why")}
        for planting in plan["plantings"]
    ]
    return check_plan(library, read_plan({**plan, "plantings": plantings}), on=ON)


def argued() -> dict[tuple[str, int], str]:
    """The answer that differs from the expert's, by plan and planting."""
    found = tomllib.loads((FOLDER / "disagreements.toml").read_text(encoding="utf-8"))
    return {
        (disagreement["plan"], disagreement["planting"]): disagreement["answered"]
        for disagreement in found.get("disagreement", [])
        if disagreement["argument"]
    }


@pytest.mark.parametrize("name", PLANS)
def test_each_planting_has_the_expert_s_verdict_or_an_argument(library: Library, name: str) -> None:
    found = answer(library, name)
    wrong = []
    for planting, wanted in zip(found.plantings, document(name)["plantings"], strict=True):
        expected = argued().get((name, planting.number), wanted["expected"])
        if planting.verdict != expected:
            wrong.append(
                (planting.number, planting.label, expected, planting.verdict, *planting.conditions)
            )
    assert not wrong, "\n".join(map(str, wrong))


def test_an_argument_is_kept_only_while_the_answer_differs(library: Library) -> None:
    for (name, number), answered in argued().items():
        planting = answer(library, name).planting(number)
        assert planting.verdict == answered
        assert document(name)["plantings"][number - 1]["expected"] != answered


def test_most_verdicts_agree_without_an_argument() -> None:
    plantings = sum(len(document(name)["plantings"]) for name in PLANS)
    assert len(argued()) <= 0.16 * plantings
