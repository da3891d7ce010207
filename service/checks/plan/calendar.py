"""The year after planting: what the plan asks for, and when.

Every task follows from the answer: a tender plant is lifted before frost, a plant that seeds is cut
back, a screen is cleaned in leaf fall, and where water leaves, the water below is looked over once
a season. Plants that are held back are not planted and ask for nothing.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from service.checks.plan.values import PlanAnswer, PlantingAnswer
from service.values.plants import COMMON_PRACTICE, Provenance
from service.values.vocabulary import HowKnown

Season = Literal["spring", "summer", "autumn", "winter"]
Every = Literal["week", "month"]

FROST_LEAD_DAYS = 14
"""Tender plants come out this long before the mean first frost: common practice, no source."""
_LEAF_FALL = (-14, 42)
"""Days about the mean first frost in which most leaves come down: common practice, no source."""
_SEED_FROM = (7, 1)
_FROST_OF_ZONE: dict[range, tuple[int, int]] = {
    range(1, 4): (9, 1),
    range(4, 5): (9, 20),
    range(5, 6): (10, 1),
    range(6, 7): (10, 10),
    range(7, 8): (10, 25),
    range(8, 9): (11, 10),
    range(9, 14): (12, 1),
}
_SPRING_OF_ZONE: dict[range, tuple[int, int]] = {
    range(1, 6): (5, 1),
    range(6, 8): (4, 10),
    range(8, 14): (3, 10),
}
"""Early dates for whoever does not know their own: common practice, no source. A hardiness zone is
about the coldest night of winter and tells little about the first frost.
"""
FROST_GIVEN = "the mean first frost given in the plan"
FROST_BY_ZONE = (
    "an early date for the hardiness zone; put the first frost of your own place instead"
)
DATED_BY_HABIT = "about when it is usually done; common practice, no source"
FROST_UNKNOWN = (
    "a date for the middle of the country; put the first frost of your own place instead"
)


@dataclass(frozen=True, slots=True)
class Task:
    """One thing that the plan asks for in the year after planting.

    Attributes:
        key: kind of task.
        start: first day.
        end: last day, included.
        every: how often between them; None is once.
        why: what it comes from.
        plantings: numbers; empty for the place or plan as a whole.
        how_known: of its date.
        dated_by: what the date follows.
    """

    key: str
    title: str
    season: Season
    start: date
    end: date
    every: Every | None
    why: str
    places: tuple[str, ...]
    plantings: tuple[int, ...]
    how_known: HowKnown
    dated_by: str


@dataclass(frozen=True, slots=True)
class _Year:
    """The twelve months that begin with the day of the answer."""

    begin: date
    frost: tuple[int, int]
    spring: tuple[int, int]
    dated_by: str
    known: Provenance

    def day(self, month_day: tuple[int, int], days: int = 0) -> date:
        """The day of that name within the twelve months, moved by some days."""
        month, day = month_day
        found = date(self.begin.year, month, day) + timedelta(days)
        if found < self.begin:
            found = date(self.begin.year + 1, month, day) + timedelta(days)
        return found


def calendar_of(answer: PlanAnswer) -> tuple[Task, ...]:
    """The tasks of the twelve months from the day of the answer, the earliest first."""
    year = _year(answer)
    planted = [planting for planting in answer.plantings if planting.passes]
    tasks = [
        *_tender(year, planted),
        *_seed_heads(year, planted),
        *_screens(year, planted),
        *_vessels(year, planted),
        *_aggressive(year, planted),
        *_downstream(year, answer, planted),
        *_again(year, answer),
    ]
    return tuple(sorted(tasks, key=lambda task: (task.start, task.key, task.places)))


def frost_date(answer: PlanAnswer) -> str:
    """The first frost that the tasks are dated by, and where that is from."""
    year = _year(answer)
    month, day = year.frost
    return f"{date(2001, month, day):%B} {day}, {year.dated_by}"


def by_season(tasks: Iterable[Task]) -> Mapping[Season, Sequence[Task]]:
    """Tasks under their seasons, in the order in which these come."""
    found: dict[Season, list[Task]] = {}
    for task in tasks:
        found.setdefault(task.season, []).append(task)
    return found


def _year(answer: PlanAnswer) -> _Year:
    stated = answer.site.climate.first_frost
    zones = [int("".join(filter(str.isdigit, zone)) or 0) for zone in answer.site.location.zones]
    own = answer.site.climate.hardiness_zone
    if own:
        zones = [int("".join(filter(str.isdigit, own)) or 0)]
    coldest = min((zone for zone in zones if zone), default=0)
    spring = _of_zone(_SPRING_OF_ZONE, coldest, (4, 10))
    frost = _of_zone(_FROST_OF_ZONE, coldest, (10, 1))
    known, by = COMMON_PRACTICE, FROST_BY_ZONE if coldest else FROST_UNKNOWN
    if stated:
        given = _month_day(stated)
        if given is not None:
            frost, known, by = given, Provenance("user", "the plan"), FROST_GIVEN
    return _Year(answer.as_of, frost, spring, by, known)


def _month_day(text: str) -> tuple[int, int] | None:
    try:
        found = date.fromisoformat(f"2001-{text}")
    except ValueError:
        return None
    return found.month, found.day


def _of_zone(
    table: dict[range, tuple[int, int]], zone: int, default: tuple[int, int]
) -> tuple[int, int]:
    return next((day for zones, day in table.items() if zone in zones), default)


def _tender(year: _Year, planted: Iterable[PlantingAnswer]) -> Iterator[Task]:
    tender = [
        planting
        for planting in planted
        if any(fit.winter == "tender" for fit in planting.fits)
        or _planned(planting, "autumn-removal")
    ]
    if not tender:
        return
    end = year.day(year.frost, -FROST_LEAD_DAYS)
    yield _task(
        year,
        "lift-tender",
        f"Lift {_names(tender)} before the first frost; dry what is not kept on land, away from "
        "water.",
        "autumn",
        max(year.begin, end - timedelta(7)),
        end,
        "Tender here: frost kills it, and its pieces and buds drift off.",
        tender,
        by_frost=True,
    )


def _seed_heads(year: _Year, planted: Iterable[PlantingAnswer]) -> Iterator[Task]:
    seeding = [
        planting
        for planting in planted
        if not planting.native
        and any("seed" in plant.traits.spread_modes for plant in planting.plants)
    ]
    if not seeding:
        return
    start, end = year.day(_SEED_FROM), year.day(year.frost)
    if end < start:
        start = year.begin
    yield _task(
        year,
        "seed-heads",
        f"Cut the seed heads of {_names(seeding)} before they ripen; bag them, no compost.",
        "summer",
        start,
        end,
        "It spreads by seed and is not native here.",
        seeding,
        every="month",
        by_frost=True,
    )


def _screens(year: _Year, planted: Iterable[PlantingAnswer]) -> Iterator[Task]:
    screened = [planting for planting in planted if _planned(planting, "outlet-screen")]
    for place, several in _by_place(screened):
        yield _task(
            year,
            "screen-leaf-fall",
            f"Clean the outlet screen of {place} each week while leaves fall, and after each "
            "storm.",
            "autumn",
            year.day(year.frost, _LEAF_FALL[0]),
            year.day(year.frost, _LEAF_FALL[0]) + timedelta(_LEAF_FALL[1] - _LEAF_FALL[0]),
            "A half-blocked screen lets water, and plants, over the rim.",
            several,
            every="week",
            places=(place,),
            by_frost=True,
        )
        yield _task(
            year,
            "screen-spring",
            f"Look the outlet screen of {place} over after the ice: gaps, bent bars, loose edges.",
            "spring",
            year.day(year.spring),
            year.day(year.spring),
            "Ice and floods shift it.",
            several,
            places=(place,),
        )


_VESSELS = ("solid-pot", "no-drain-tub", "basket", "foam-island", "floating-ring")


def _vessels(year: _Year, planted: Iterable[PlantingAnswer]) -> Iterator[Task]:
    potted = [planting for planting in planted if planting.position.holding in _VESSELS]
    for place, several in _by_place(potted):
        afloat = any(p.position.holding in ("foam-island", "floating-ring") for p in several)
        also = " Check moorings and foam." if afloat else ""
        for season, day in (("spring", year.day(year.spring)), ("summer", year.day((8, 1)))):
            yield _task(
                year,
                f"vessels-{season}",
                f"Look over the pots and rims of {place}; cut what has rooted outside.{also}",
                season,
                day,
                day,
                "A pot holds until something grows over its rim.",
                several,
                places=(place,),
            )


def _aggressive(year: _Year, planted: Iterable[PlantingAnswer]) -> Iterator[Task]:
    spreading = [
        planting
        for planting in planted
        if any(plant.traits.spread_rate == "aggressive" for plant in planting.plants)
        and not all(fit.winter == "tender" for fit in planting.fits)
    ]
    if not spreading:
        return
    day = year.day(year.spring, 14)
    yield _task(
        year,
        "cut-back",
        f"Cut {_names(spreading)} back to the part where it was planted.",
        "spring",
        day,
        day,
        "It spreads aggressively and crowds out other plants.",
        spreading,
    )


def _downstream(
    year: _Year, answer: PlanAnswer, planted: Iterable[PlantingAnswer]
) -> Iterator[Task]:
    foreign = [planting for planting in planted if not planting.native]
    for place, several in _by_place(foreign):
        facts = answer.place(place).place
        closed = all(way is False for way in (facts.outlet, facts.overflow, facts.flood_prone))
        if closed and facts.kind != "stream":
            continue
        for season, day in (
            ("spring", year.day(year.spring, 28)),
            ("summer", year.day((8, 1))),
            ("autumn", year.day(year.frost, -21)),
        ):
            yield _task(
                year,
                f"downstream-{season}",
                f"Walk the water below {place} and look for {_names(several)}; write down the day "
                "and what was seen, and tell the authority of a find.",
                season,
                day,
                day,
                "Water can leave here, and what is not native must not follow it.",
                several,
                places=(place,),
                by_frost=season == "autumn",
            )


def _again(year: _Year, answer: PlanAnswer) -> Iterator[Task]:
    day = year.begin + timedelta(364)
    yield Task(
        "check-again",
        "Check this plan again: lists of plants change.",
        _season(day),
        day,
        day,
        None,
        "The answer is as of its date.",
        (),
        (),
        "common-practice",
        "a year after the answer",
    )


def _season(day: date) -> Season:
    """Meteorological seasons of the northern half of the earth."""
    seasons: tuple[Season, ...] = ("winter", "spring", "summer", "autumn")
    return seasons[day.month % 12 // 3]


def _planned(planting: PlantingAnswer, kind: str) -> bool:
    return any(measure.kind == kind for measure in planting.planned)


def _by_place(plantings: Iterable[PlantingAnswer]) -> Iterator[tuple[str, list[PlantingAnswer]]]:
    found: dict[str, list[PlantingAnswer]] = {}
    for planting in plantings:
        if planting.place:
            found.setdefault(planting.place, []).append(planting)
    yield from found.items()


def _task(
    year: _Year,
    key: str,
    title: str,
    season: str,
    start: date,
    end: date,
    why: str,
    plantings: list[PlantingAnswer],
    *,
    every: Every | None = None,
    places: tuple[str, ...] | None = None,
    by_frost: bool = False,
) -> Task:
    of_plantings = tuple(dict.fromkeys(p.place for p in plantings if p.place))
    return Task(
        key,
        title,
        season,  # type: ignore[arg-type]
        start,
        end,
        every,
        why,
        of_plantings if places is None else places,
        tuple(planting.number for planting in plantings),
        year.known.how_known if by_frost else "common-practice",
        year.dated_by if by_frost else DATED_BY_HABIT,
    )


MOST_NAMED = 4


def _names(plantings: list[PlantingAnswer]) -> str:
    names = list(dict.fromkeys(planting.label for planting in plantings))
    if len(names) > MOST_NAMED:
        return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
