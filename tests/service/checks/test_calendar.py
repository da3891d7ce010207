"""The year after planting: each task follows from the plan, and the file is RFC 5545."""

import json
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from service.checks.plan.calendar import FROST_GIVEN, calendar_of
from service.output.icalendar import write_calendar
from service.output.models.plan import plan_json
from tests.service.output.plans import POINT, answer_of, demo_answer


def plan(*plantings: dict[str, Any], frost: str | None = "10-10", day: str = "2026-06-01") -> Any:
    site = {"geometry": POINT, "state": "US-OH"} | ({"first_frost": frost} if frost else {})
    place = {"name": "Pond", "kind": "pond", "area_m2": 60, "depth_cm": 90, "flow": "still"}
    closed = {"outlet": False, "overflow": False, "flood_prone": False, "lined": True}
    return answer_of(
        {"date": day, "site": site, "places": [place | closed], "plantings": list(plantings)}
    )


TENDER = {"label": "Colocasia esculenta", "holding": "solid-pot", "crown_depth_cm": 5}


def test_a_tender_plant_is_lifted_two_weeks_before_the_frost_that_the_plan_gives() -> None:
    answer = plan(TENDER)
    assert answer.plantings[0].passes, answer.plantings[0].conditions
    (task,) = [task for task in calendar_of(answer) if task.key == "lift-tender"]
    # 10 October less 14 days; a fortnight of warning is common practice, no source.
    assert task.end == date(2026, 9, 26)
    assert (task.how_known, task.dated_by) == ("user", FROST_GIVEN)
    assert task.plantings == (1,)


def test_without_a_frost_the_zone_gives_an_early_date_and_says_that_it_is_rough() -> None:
    (task,) = [task for task in calendar_of(plan(TENDER, frost=None)) if task.key == "lift-tender"]
    assert task.how_known == "common-practice"
    assert "put the first frost of your own place instead" in task.dated_by


def test_a_plan_made_after_the_frost_dates_its_tasks_in_the_year_to_come() -> None:
    for task in calendar_of(plan(TENDER, day="2026-12-01")):
        assert date(2026, 12, 1) <= task.start <= task.end <= date(2027, 12, 1), task


def test_what_is_held_back_is_not_planted_and_asks_for_nothing() -> None:
    answer = demo_answer()
    held_back = {planting.number for planting in answer.plantings if not planting.passes}
    assert held_back
    for task in calendar_of(answer):
        assert not held_back & set(task.plantings)


def test_water_that_leaves_is_walked_once_a_season_and_closed_water_is_not() -> None:
    seasons = [t.season for t in calendar_of(demo_answer()) if t.key.startswith("downstream")]
    assert sorted(seasons) == ["autumn", "spring", "summer"]
    assert not [t for t in calendar_of(plan(TENDER)) if t.key.startswith("downstream")]


def test_the_screen_is_cleaned_each_week_while_leaves_fall() -> None:
    task = next(task for task in calendar_of(demo_answer()) if task.key == "screen-leaf-fall")
    assert task.every == "week"
    assert task.start == date(2026, 9, 26)
    assert task.end - task.start == timedelta(56)


def test_json_has_the_same_tasks() -> None:
    answer = demo_answer()
    sent = json.loads(plan_json(answer))["calendar"]
    assert [task["title"] for task in sent] == [task.title for task in calendar_of(answer)]


def test_the_file_reads_back_with_every_task_once() -> None:
    answer = demo_answer()
    text = write_calendar(answer)
    assert text == write_calendar(answer)
    lines = text.split("\r\n")
    assert lines[0] == "BEGIN:VCALENDAR"
    # RFC 5545, 3.1: lines of no more than 75 octets, ended by CRLF.
    assert max(len(line.encode()) for line in lines) <= 75
    assert "\n" not in "".join(lines)
    events = Calendar.from_ical(text).walk("VEVENT")
    tasks = calendar_of(answer)
    assert [str(event["summary"]) for event in events] == [task.title for task in tasks]
    assert len({str(event["uid"]) for event in events}) == len(tasks)
    for event, task in zip(events, tasks, strict=True):
        assert event.decoded("dtstart") == task.start
        # 3.6.1: the end of an event of whole days is not one of them.
        last = task.start if task.every else task.end
        assert event.decoded("dtend") == last + timedelta(1)
        assert ("rrule" in event) == (task.every is not None)


@given(
    st.dates(date(2020, 1, 1), date(2040, 12, 31)),
    st.dates(date(2001, 1, 1), date(2001, 12, 31)).map(lambda day: day.strftime("%m-%d")),
)
@settings(max_examples=40, deadline=None)
def test_every_task_falls_into_the_twelve_months_whatever_day_and_frost(
    day: date, frost: str
) -> None:
    answer = plan(TENDER, frost=frost, day=day.isoformat())
    for task in calendar_of(answer):
        assert day <= task.start <= task.end <= day + timedelta(366), task


@pytest.mark.parametrize("label", ["A; B, C\\D", "line\nbreak", "\u05e0\u05d9", "x" * 150])
def test_any_text_of_a_plan_survives_the_file(label: str) -> None:
    answer = answer_of(
        {
            "title": label,
            "site": {"geometry": POINT},
            "places": [{"name": label, "kind": "pond"}],
            "plantings": [TENDER | {"place": label}],
        }
    )
    calendar = Calendar.from_ical(write_calendar(answer))
    places = {str(event["location"]) for event in calendar.walk("VEVENT") if "location" in event}
    assert places == {answer.plantings[0].place}
    assert calendar["x-wr-calname"]
