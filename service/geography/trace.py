"""Following water along a network of flowlines, down or up, with distance, waters passed and states
reached.

The network may loop and braid: each line is entered once, by the shortest way to it, over all
    branches or, if asked, over
the main branch alone at each divergence.
"""

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from service.values.vocabulary import Jurisdiction, WaterId

Direction = Literal["downstream", "upstream"]
Branches = Literal["all", "main"]
EndingKind = Literal["network ends", "line not loaded", "distance limit", "number limit"]

MAX_REACHES = 50_000


@dataclass(frozen=True, slots=True)
class StateStretch:
    """A stretch of a flowline, measured from its upstream end, in a state or beside it within
    the border's accuracy.
    """

    from_m: float
    to_m: float
    state: Jurisdiction
    beside: bool = False


@dataclass(frozen=True, slots=True)
class Flowline:
    """A line that water runs along.

    Attributes:
        water_id: the stream it is part of; None for a pipe or a line through a lake.
        through_id: the lake, wetland or wide river it runs through.
        through_still: whether that is a still water.
    """

    flowline_id: str
    length_m: float
    water_id: WaterId | None = None
    through_id: WaterId | None = None
    through_still: bool = False
    states: tuple[StateStretch, ...] = ()


@dataclass(frozen=True, slots=True)
class Link:
    """The way to a neighbouring line.

    Attributes:
        main: False for the lesser branch of a divergence.
        gap_m: way across a still water ``through_id`` that has no line of its own.
    """

    flowline_id: str
    main: bool = True
    gap_m: float = 0.0
    through_id: WaterId | None = None


class FlowNetwork(Protocol):
    """Where the lines come from."""

    def flowline(self, flowline_id: str) -> Flowline | None:
        """A line, or None when it is named in a link but not loaded."""

    def downstream(self, flowline_id: str) -> Sequence[Link]:
        """The lines that water runs on to, in a fixed order."""

    def upstream(self, flowline_id: str) -> Sequence[Link]:
        """The lines that water comes from, in a fixed order."""


@dataclass(frozen=True, slots=True)
class Start:
    """A place on a flowline.

    Attributes:
        along_m: from the upstream end of the line.
        away_m: from the site to this place, overland.
    """

    flowline_id: str
    along_m: float
    away_m: float = 0.0


@dataclass(frozen=True, slots=True)
class TracedLine:
    """A flowline reached.

    Distances run from the start along the water; the part before the start is left out.
    """

    flowline_id: str
    water_id: WaterId | None
    through_id: WaterId | None
    from_m: float
    to_m: float
    lakes_passed: int


@dataclass(frozen=True, slots=True)
class WaterPassed:
    """A water on the way: where the trace first comes to it, and the still waters passed before."""

    water_id: WaterId
    along_m: float
    lakes_passed: int


@dataclass(frozen=True, slots=True)
class StateReached:
    """A state on the way, other than that of the start.

    Attributes:
        along_m: where the trace first comes into it, or beside it.
        beside: it never comes into it, only within the accuracy of the border.
    """

    state: Jurisdiction
    along_m: float
    beside: bool


@dataclass(frozen=True, slots=True)
class Ending:
    """Where and why the trace goes no further."""

    kind: EndingKind
    flowline_id: str
    along_m: float


@dataclass(frozen=True, slots=True)
class Trace:
    """What lies down or up the water from a place; all in order of distance.

    Attributes:
        starts: empty when no flowline was near; then nothing is known of where the water goes.
        states: reached beyond those of the start.
        rejoined: links that lead to a line already reached: loops and braids.
    """

    direction: Direction
    starts: tuple[Start, ...] = ()
    lines: tuple[TracedLine, ...] = ()
    waters: tuple[WaterPassed, ...] = ()
    states: tuple[StateReached, ...] = ()
    start_states: tuple[Jurisdiction, ...] = ()
    endings: tuple[Ending, ...] = ()
    rejoined: int = 0

    @property
    def length_m(self) -> float:
        """Distance to the farthest place reached."""
        return max((line.to_m for line in self.lines), default=0.0)


def trace(
    network: FlowNetwork,
    starts: Sequence[Start],
    *,
    direction: Direction = "downstream",
    branches: Branches = "all",
    max_m: float = 1_000_000.0,
    max_reaches: int = MAX_REACHES,
) -> Trace:
    """Follow the water from one place or several, each line by its shortest way.

    Args:
        max_m: lines that begin beyond this distance are not entered; the last one may end beyond
            it.
        max_reaches: lines entered at most.
    """
    walk = _Walk(network, direction, branches, max_m, max_reaches)
    for start in starts:
        walk.begin(start)
    walk.run()
    lines = sorted(walk.lines, key=lambda line: (line.from_m, line.flowline_id))
    return Trace(
        direction,
        tuple(starts),
        tuple(lines),
        _first_of_each(walk.waters),
        _states(walk.stretches, walk.start_states),
        tuple(sorted(walk.start_states)),
        tuple(sorted(walk.endings, key=lambda ending: (ending.along_m, ending.flowline_id))),
        walk.rejoined,
    )


class _Walk:
    """Dijkstra's algorithm over lines."""

    def __init__(
        self,
        network: FlowNetwork,
        direction: Direction,
        branches: Branches,
        max_m: float,
        max_reaches: int,
    ) -> None:
        self._network = network
        self._down = direction == "downstream"
        self._branches = branches
        self._max_m = max_m
        self._max_reaches = max_reaches
        self._queue: list[tuple[float, str, int, str]] = []
        self._entered: set[str] = set()
        self.lines: list[TracedLine] = []
        self.waters: list[WaterPassed] = []
        self.stretches: list[StateReached] = []
        self.start_states: set[Jurisdiction] = set()
        self.endings: list[Ending] = []
        self.rejoined = 0

    def begin(self, start: Start) -> None:
        line = self._network.flowline(start.flowline_id)
        if line is None:
            self.endings.append(Ending("line not loaded", start.flowline_id, 0.0))
            return
        behind_m = start.along_m if self._down else line.length_m - start.along_m
        self._push(-behind_m, start.flowline_id, 0, None)
        self.start_states |= {
            stretch.state
            for stretch in line.states
            if not stretch.beside and stretch.from_m <= start.along_m <= stretch.to_m
        }

    def run(self) -> None:
        while self._queue:
            at_m, flowline_id, lakes, lake = heapq.heappop(self._queue)
            if flowline_id in self._entered:
                self.rejoined += 1
                continue
            if len(self._entered) >= self._max_reaches:
                self.endings.append(Ending("number limit", flowline_id, max(0.0, at_m)))
                return
            self._enter(at_m, flowline_id, lakes, WaterId(lake) if lake else None)

    def _enter(self, at_m: float, flowline_id: str, lakes: int, lake: WaterId | None) -> None:
        line = self._network.flowline(flowline_id)
        if line is None:
            self.endings.append(Ending("line not loaded", flowline_id, max(0.0, at_m)))
            return
        self._entered.add(flowline_id)
        if line.through_still and line.through_id is not None and line.through_id != lake:
            self._pass(line.through_id, at_m, lakes)
            lakes, lake = lakes + 1, line.through_id
        elif not line.through_still:
            lake = None
        end_m = at_m + line.length_m
        self.lines.append(
            TracedLine(
                flowline_id, line.water_id, line.through_id, max(0.0, at_m), max(0.0, end_m), lakes
            )
        )
        for water_id in (line.water_id, None if line.through_still else line.through_id):
            if water_id is not None:
                self._pass(water_id, at_m, lakes)
        self.stretches += self._along(line, at_m)
        self._follow(line, end_m, lakes, lake)

    def _follow(self, line: Flowline, end_m: float, lakes: int, lake: WaterId | None) -> None:
        links = (self._network.downstream if self._down else self._network.upstream)(
            line.flowline_id
        )
        if not links:
            self.endings.append(Ending("network ends", line.flowline_id, max(0.0, end_m)))
        for link in links:
            if self._branches == "main" and not link.main and any(other.main for other in links):
                continue
            next_lakes, next_lake = lakes, lake
            if link.through_id is not None and link.through_id != lake:
                self._pass(link.through_id, end_m, lakes)
                next_lakes, next_lake = lakes + 1, link.through_id
            if link.flowline_id in self._entered:
                self.rejoined += 1
            elif end_m + link.gap_m > self._max_m:
                self.endings.append(Ending("distance limit", link.flowline_id, end_m + link.gap_m))
            else:
                self._push(end_m + link.gap_m, link.flowline_id, next_lakes, next_lake)

    def _push(self, at_m: float, flowline_id: str, lakes: int, lake: WaterId | None) -> None:
        heapq.heappush(self._queue, (at_m, flowline_id, lakes, lake or ""))

    def _pass(self, water_id: WaterId, at_m: float, lakes: int) -> None:
        self.waters.append(WaterPassed(water_id, max(0.0, at_m), lakes))

    def _along(self, line: Flowline, at_m: float) -> Iterable[StateReached]:
        """The stretches of a line as distances from the start, the part behind the start left
        out.
        """
        for stretch in line.states:
            near_m = stretch.from_m if self._down else line.length_m - stretch.to_m
            far_m = stretch.to_m if self._down else line.length_m - stretch.from_m
            if at_m + far_m >= 0:
                yield StateReached(stretch.state, max(0.0, at_m + near_m), stretch.beside)


def _first_of_each(passed: Iterable[WaterPassed]) -> tuple[WaterPassed, ...]:
    ordered = sorted(passed, key=lambda water: (water.along_m, water.lakes_passed, water.water_id))
    first: dict[WaterId, WaterPassed] = {}
    for water in ordered:
        first.setdefault(water.water_id, water)
    return tuple(first.values())


def _states(
    stretches: Iterable[StateReached], start_states: set[Jurisdiction]
) -> tuple[StateReached, ...]:
    first: dict[Jurisdiction, StateReached] = {}
    for stretch in sorted(stretches, key=lambda state: (state.along_m, state.state, state.beside)):
        known = first.setdefault(stretch.state, stretch)
        if known.beside and not stretch.beside:
            first[stretch.state] = StateReached(known.state, known.along_m, beside=False)
    reached = (state for state in first.values() if state.state not in start_states)
    return tuple(sorted(reached, key=lambda state: (state.along_m, state.state)))
