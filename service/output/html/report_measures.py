"""The measures of a report: each drawing and each working once over the whole, and numbered."""

from dataclasses import dataclass, field

from service.checks.plan.values import PlantingAnswer
from service.containment import Check, ContainmentPlan, Figure, Measure, Section
from service.output.drawings import Drawing, draw
from service.output.words import ROUTES
from service.values.words import joined


@dataclass(frozen=True, slots=True)
class NumberedDrawing:
    """A drawing with its number in the report."""

    number: int
    place: str
    drawing: Drawing


@dataclass(frozen=True, slots=True)
class MeasureView:
    """One measure of a plant.

    Attributes:
        new: drawings that stand here; ``seen`` are numbers of those that stand further up.
        workings: its number among the workings.
        first: number of the planting where the same measure of the same place is told first.
    """

    measure: Measure
    holds: str
    slows: str
    failing: tuple[Check, ...]
    passing: tuple[str, ...]
    new: tuple[NumberedDrawing, ...]
    seen: tuple[int, ...]
    workings: int
    first: int


@dataclass(frozen=True, slots=True)
class Workings:
    """The figures behind one measure, said once for all plantings that share them."""

    number: int
    title: str
    place: str
    figures: tuple[Figure, ...]
    measure: Measure


@dataclass
class Bench:
    """Drawings and workings over the whole report, each once."""

    drawn: dict[tuple[str, Section], tuple[int, ...]] = field(default_factory=dict)
    workings: dict[object, Workings] = field(default_factory=dict)
    _drawings: int = 0
    _first_shown: dict[object, int] = field(default_factory=dict)

    def measures(self, planting: PlantingAnswer, plan: ContainmentPlan) -> tuple[MeasureView, ...]:
        """The measures of a plan with their drawings, those that hold most first."""
        return tuple(self._measure(planting, measure) for measure in plan.measures)

    def _measure(self, planting: PlantingAnswer, measure: Measure) -> MeasureView:
        new: tuple[NumberedDrawing, ...] = ()
        seen: tuple[int, ...] = ()
        if measure.section is not None and not _other_vessel(planting, measure):
            key = (planting.place, measure.section)
            seen = self.drawn.get(key, ())
            if not seen:
                new = self._draw(planting, measure, measure.section)
                self.drawn[key] = tuple(drawing.number for drawing in new)
        failing = tuple(check for check in measure.checks if not check.passes)
        passing = tuple(check.name for check in measure.checks if check.passes)
        holds, slows = _ways(measure, "holds"), _ways(measure, "slows")
        work = (planting.place, measure.kind, measure.checks, measure.missing, measure.figures)
        first = self._first_shown.setdefault(work, planting.number)
        workings = self._work(planting, measure)
        return MeasureView(measure, holds, slows, failing, passing, new, seen, workings, first)

    def _draw(
        self, planting: PlantingAnswer, measure: Measure, section: Section
    ) -> tuple[NumberedDrawing, ...]:
        drawings = draw(
            section, key=f"drawing-{self._drawings + 1}", title=f"{measure.title}, {planting.place}"
        )
        numbered = []
        for drawing in drawings:
            self._drawings += 1
            numbered.append(NumberedDrawing(self._drawings, planting.place, drawing))
        return tuple(numbered)

    def _work(self, planting: PlantingAnswer, measure: Measure) -> int:
        if not (measure.figures or measure.checks):
            return 0
        key = (planting.place, measure.kind, measure.figures, measure.checks)
        workings = self.workings.get(key)
        if workings is None:
            workings = self.workings[key] = Workings(
                len(self.workings) + 1, measure.title, planting.place, measure.figures, measure
            )
        return workings.number


_VESSELS = ("solid-pot", "no-drain-tub", "foam-island", "floating-ring")


def _other_vessel(planting: PlantingAnswer, measure: Measure) -> bool:
    """Whether the plan sets the plant in another vessel than this one; then the words do without
    a drawing.
    """
    return (
        measure.kind in _VESSELS
        and planting.position.holding in _VESSELS
        and planting.position.holding != measure.kind
    )


def _ways(measure: Measure, strength: str) -> str:
    """``seed by the outlet and storm overflow; rhizome by the bank``."""
    by_way: dict[str, list[str]] = {}
    for way_held in measure.held:
        if way_held.strength == strength:
            by_way.setdefault(way_held.way_out.way, []).append(ROUTES[way_held.way_out.route])
    return "; ".join(f"{way} by {joined(routes)}" for way, routes in by_way.items())
