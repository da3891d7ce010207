"""Watches: what changed for a stock list since the last run, line by line, and why."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from typing import Protocol

from service.checks.label import LineName
from service.checks.stock import StockChecker, StockLine, StockQuestion, Verdicts
from service.regulation.finding import Citation
from service.store.library import Library
from service.values.watches import (
    ChangeKind,
    Ground,
    LineChange,
    LineState,
    PlaceState,
    Snapshot,
    Watch,
)


class WatchHome(Protocol):
    """Where watches are kept: a file beside the store, or a database that servers share."""

    def all(self) -> tuple[Watch, ...]:
        """Every watch, by name."""

    def get(self, name: str) -> Watch:
        """A watch.

        Raises:
            NotFound: no watch has the name.
        """

    def put(self, watch: Watch) -> None:
        """Keep a watch, in place of one of the same name."""

    def remove(self, name: str) -> None:
        """Take a watch away.

        Raises:
            NotFound: no watch has the name.
        """


def take_snapshot(library: Library, names: Sequence[LineName], question: StockQuestion) -> Snapshot:
    """What the law loaded says of every line now."""
    states: dict[tuple[PlaceState, ...], int] = {}
    known: dict[Verdicts, int] = {}
    lines: list[LineState] = []
    checker = StockChecker(library, question)
    for name, line in zip(names, checker.check(names), strict=True):
        place = known.get(line.verdicts)
        if place is None:
            found = tuple(_places(line))
            place = known[line.verdicts] = states.setdefault(found, len(states))
        lines.append(_line(name, line, place))
    return Snapshot(question.on, library.build_id, tuple(lines), tuple(states))


def run_watch(
    library: Library, watch: Watch, names: Sequence[LineName], on: date
) -> tuple[Watch, tuple[LineChange, ...]]:
    """The watch with what is found now, and what changed since its last run.

    Args:
        names: the lines of the stock list as it is now.
    """
    question = StockQuestion(watch.jurisdictions, watch.acts, on, watch.origin, watch.county)
    now = take_snapshot(library, names, question)
    return replace(watch, last=now), changes_of(watch.last, now)


def changes_of(before: Snapshot, after: Snapshot) -> tuple[LineChange, ...]:
    """What sets two snapshots apart, in the order of the later one; lines that are gone come
    last.

    A change that only says how an entry is known, or of the first day of a version, is none.
    """
    earlier = dict(_keyed(before.lines))
    later = dict(_keyed(after.lines))
    changes = [
        change
        for key, line in later.items()
        if (change := _change(earlier.get(key), line, before, after)) is not None
    ]
    changes += [
        LineChange(_shown(line), ("own-list",), ("The line is no longer in the stock list.",))
        for key, line in earlier.items()
        if key not in later
    ]
    return tuple(changes)


def _line(name: LineName, line: StockLine, state: int) -> LineState:
    plants = tuple(sorted({candidate.accepted_name for candidate in line.resolution.candidates}))
    return LineState(name.label, name.common, plants, line.resolution.confirmed, state)


def _places(line: StockLine) -> Iterator[PlaceState]:
    for finding in line.verdicts.findings:
        grounds = tuple(sorted(map(_ground, finding.citations), key=repr))
        yield PlaceState(finding.jurisdiction, finding.act, finding.outcome, grounds)
        for rule in finding.own_rules:
            yield PlaceState(
                finding.jurisdiction,
                f"{finding.act}, {rule.title}",
                rule.outcome,
                (_ground(rule.citation),),
            )
    for lane in line.verdicts.lanes:
        yield PlaceState(lane.destination, "shipping there", lane.outcome)


def _ground(citation: Citation) -> Ground:
    return Ground(
        citation.list_id,
        citation.title,
        citation.class_name,
        citation.name_as_listed,
        citation.exceptions,
        citation.area,
        citation.condition,
        citation.acts,
        citation.permit,
        citation.outcome,
    )


_Key = tuple[str, str, int]


def _keyed(lines: Iterable[LineState]) -> Iterator[tuple[_Key, LineState]]:
    """Lines by what they say; of like lines, by which of them it is."""
    met: Counter[tuple[str, str]] = Counter()
    for line in lines:
        key = (line.label, line.common)
        yield (*key, met[key]), line
        met[key] += 1


def _shown(line: LineState) -> str:
    return line.label or line.common


def _change(
    was: LineState | None, line: LineState, before: Snapshot, after: Snapshot
) -> LineChange | None:
    now = after.states[line.state]
    if was is None:
        outcomes = "; ".join(f"{_where(place)}: {place.outcome}" for place in now if place.grounds)
        found = f" Found: {outcomes}." if outcomes else ""
        return LineChange(
            _shown(line), ("own-list",), (f"The line is new in the stock list.{found}",)
        )
    kinds: list[ChangeKind] = []
    reasons: list[str] = []
    if was.plants != line.plants or was.confirmed != line.confirmed:
        kinds.append("names")
        reasons.append(_naming(was, line))
    law = tuple(_law(before.states[was.state], now))
    if law and not kinds:
        kinds.append("law")
    reasons += law
    return LineChange(_shown(line), tuple(kinds), tuple(reasons)) if kinds else None


def _naming(was: LineState, line: LineState) -> str:
    if was.plants == line.plants:
        return "The name is confirmed now." if line.confirmed else "The name is open now."
    before = ", ".join(was.plants) or "no plant known"
    now = ", ".join(line.plants) or "no plant known"
    return f"The label was read as {before}, and is read as {now} now."


def _law(before: Sequence[PlaceState], now: Sequence[PlaceState]) -> Iterator[str]:
    earlier = {(place.jurisdiction, place.act): place for place in before}
    for state in now:
        was = earlier.pop((state.jurisdiction, state.act), None)
        if was is None:
            yield f"{_where(state)}: {state.outcome}, not asked before."
        elif was != state:
            outcome = (
                f"was {was.outcome}, is {state.outcome}"
                if was.outcome != state.outcome
                else f"still {state.outcome}"
            )
            why = " ".join(_why(was.grounds, state.grounds))
            yield f"{_where(state)}: {outcome}. {why}".strip()
    for gone in earlier.values():
        if gone.grounds or "," in gone.act:
            yield f"{_where(gone)}: was {gone.outcome}, is not answered any more."


def _where(state: PlaceState) -> str:
    return f"{state.jurisdiction} {state.act}"


def _why(before: Sequence[Ground], now: Sequence[Ground]) -> Iterator[str]:
    gone = [ground for ground in before if ground not in now]
    new = [ground for ground in now if ground not in before]
    for ground in new:
        was = next((ground_gone for ground_gone in gone if _same_entry(ground_gone, ground)), None)
        if was is None:
            yield f"{ground.title} ({ground.list_id}) has {_name(ground)}: {ground.class_name}."
        else:
            gone.remove(was)
            yield (
                f"{ground.title} ({ground.list_id}), {_name(ground)}:"
                f" {'; '.join(_differences(was, ground))}."
            )
    for ground in gone:
        yield f"{ground.title} ({ground.list_id}) no longer has {_name(ground)}."
    if set(before) == set(now):
        yield "How completely the lists there are loaded has changed, or a day of theirs has come."


def _same_entry(one: Ground, other: Ground) -> bool:
    return (one.list_id, one.name_as_listed) == (other.list_id, other.name_as_listed)


def _name(ground: Ground) -> str:
    return ground.name_as_listed or "the plant"


def _differences(was: Ground, now: Ground) -> Iterator[str]:
    for words, one, other in (
        ("class", was.class_name, now.class_name),
        ("exceptions", was.exceptions, now.exceptions),
        ("area", was.area, now.area),
        ("condition", was.condition, now.condition),
        ("acts", ", ".join(was.acts), ", ".join(now.acts)),
        ("permit", was.permit, now.permit),
        ("outcome", was.outcome, now.outcome),
        ("title", was.title, now.title),
    ):
        if one != other:
            yield f"{words} was {one or '(none)'}, is {other or '(none)'}"
