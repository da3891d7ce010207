"""The answers that a state botanist would give, on the reference law."""

import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from service.regulation.finding import Question, find
from service.regulation.subject import Subject
from service.store.library import Library
from service.values.vocabulary import CountyFips, Jurisdiction
from tests.service.regulation.builders import ON

FILE = Path(__file__).with_name("judgements.toml")
CASES: list[dict[str, Any]] = tomllib.loads(FILE.read_text(encoding="utf-8"))["case"]
ASKED = [
    pytest.param(case, place, act, id=f"{case['plant']}-{place}-{act}-{case.get('on', ON)}")
    for case in CASES
    for place, act in (asked.split() for asked in case["ask"])
]


def subject_of(library: Library, case: dict[str, Any]) -> Subject:
    """The plant of a case; ``parents`` are those of a hybrid where the case turns on them."""
    by_name = {plant.accepted_name: plant.plant_id for plant in library.plants.values()}
    subject = library.taxonomy.subject(by_name[case["plant"]], case.get("cultivar"))
    if "parents" in case:
        parents = tuple(by_name[parent] for parent in case["parents"])
        return replace(subject, hybrid_parents=parents)
    return subject


@pytest.mark.parametrize(("case", "place", "act"), ASKED)
def test_the_engine_answers_as_a_state_botanist_would(
    library: Library, case: dict[str, Any], place: str, act: Any
) -> None:
    jurisdiction = Jurisdiction(place)
    county: CountyFips | None = None
    if "county" in case:
        county = library.counties.find(jurisdiction, case["county"]).fips
    on: date = case.get("on", ON)
    question = Question(jurisdiction, act, on, county, movement="within")
    finding = find(library.law, subject_of(library, case), question)
    assert finding.outcome == case["answer"], case["because"]
    assert case.get("says", "") in " ".join(finding.reasons)
