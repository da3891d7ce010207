"""The year after planting as an iCalendar file (RFC 5545), for any calendar program.

The same answer gives the same bytes: the stamp is the day of the answer.
"""

import hashlib
from datetime import UTC, datetime, time, timedelta

from icalendar import Alarm, Calendar, Event, vText

from service.checks.plan.calendar import Task, calendar_of
from service.checks.plan.values import PlanAnswer

_FREQUENCIES = {"week": "WEEKLY", "month": "MONTHLY"}
_NOTICE = timedelta(days=7)


def write_calendar(answer: PlanAnswer) -> str:
    """The tasks of ``calendar_of`` as events that last whole days, each with a reminder a week
    before.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Reedgate//Plan calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", vText(answer.title or "Planting plan"))
    for task in calendar_of(answer):
        calendar.add_component(_event(answer, task))
    text: str = calendar.to_ical().decode("utf-8")
    return text


def _event(answer: PlanAnswer, task: Task) -> Event:
    event = Event()
    event.add("uid", _uid(answer, task))
    event.add("dtstamp", datetime.combine(answer.as_of, time(), UTC))
    event.add("summary", task.title)
    event.add("dtstart", task.start)
    # The end of an event of whole days is the day after its last (RFC 5545, 3.6.1).
    last = task.start if task.every else task.end
    event.add("dtend", last + timedelta(days=1))
    if task.every:
        event.add("rrule", {"freq": _FREQUENCIES[task.every], "until": task.end})
    event.add("description", f"{task.why} Date: {task.dated_by}.")
    if task.places:
        event.add("location", ", ".join(task.places))
    event.add("transp", "TRANSPARENT")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", task.title)
    alarm.add("trigger", -_NOTICE)
    event.add_component(alarm)
    return event


def _uid(answer: PlanAnswer, task: Task) -> str:
    """The same task of the same plan keeps its id, so that a newer file replaces it."""
    of_plan = "\n".join(
        (answer.title, str(answer.site.position), task.key, *task.places, str(task.start.year))
    )
    return f"{hashlib.sha256(of_plan.encode()).hexdigest()[:32]}@reedgate"
