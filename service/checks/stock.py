"""A stock list against the law of many places: line by line, none lost, order kept."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from service.checks.label import LineName, resolve_lines
from service.names import Resolution
from service.regulation.finding import Finding, Question
from service.regulation.for_name import Inquiry, Naming
from service.regulation.shipping import Lane, Lanes
from service.store.deadline import check as check_deadline
from service.store.deadline import within_time
from service.store.library import Library
from service.values.vocabulary import Act, CountyFips, Jurisdiction, Outcome

_FINDINGS_KEPT = 100_000
"""Findings kept for later lines of the same plant; some tens of megabytes (measured here)."""

RESTRICTED: frozenset[Outcome] = frozenset({"prohibited", "permit-required", "conditional"})
"""Outcomes of a line that is held back until somebody has cleared it."""


@dataclass(frozen=True, slots=True)
class StockQuestion:
    """What is asked of every line.

    Attributes:
        origin: where the stock ships from; adds one lane a destination to the answer.
        county: within the one jurisdiction asked about.
    """

    jurisdictions: tuple[Jurisdiction, ...]
    acts: tuple[Act, ...]
    on: date
    origin: Jurisdiction | None = None
    county: CountyFips | None = None


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Findings for each jurisdiction and act in the order asked, then the lanes in the order of
    jurisdictions.
    """

    findings: tuple[Finding, ...]
    lanes: tuple[Lane, ...] = ()


@dataclass(frozen=True, slots=True)
class StockLine:
    """One line of the list.

    Attributes:
        label: empty for a line that gives no name, which is not answered.
        common: the common name in a column of its own; empty without one.
    """

    label: str
    resolution: Resolution
    verdicts: Verdicts
    common: str = ""

    @property
    def answered(self) -> bool:
        """Whether the line gives a name, so that there is something to answer."""
        return bool(self.label)

    def restricts(self, jurisdiction: Jurisdiction | None = None) -> bool:
        """Whether any finding or shipment is restricted, there or anywhere that was asked about."""
        return any(
            outcome in RESTRICTED
            for place, outcome in self.outcomes()
            if jurisdiction is None or place == jurisdiction
        )

    def outcomes(self) -> Iterator[tuple[Jurisdiction, Outcome]]:
        """Every outcome with its place: of the law, of rules of one's own, of shipments."""
        for finding in self.verdicts.findings:
            yield finding.jurisdiction, finding.outcome
            yield from ((finding.jurisdiction, rule.outcome) for rule in finding.own_rules)
        yield from ((lane.destination, lane.outcome) for lane in self.verdicts.lanes)


class StockChecker:
    """Answers labels one by one, working out each plant but once."""

    def __init__(self, library: Library, question: StockQuestion) -> None:
        self._library = library
        self._inquiry = Inquiry(
            library.law,
            (
                Question(jurisdiction, act, question.on, question.county)
                for jurisdiction in question.jurisdictions
                for act in question.acts
            ),
        )
        self._lanes = (
            None
            if question.origin is None
            else Lanes(
                library.law, question.origin, question.jurisdictions, question.on, question.county
            )
        )
        self._known: dict[Naming, Verdicts] = {}

    def check(self, names: Sequence[str | LineName]) -> Iterator[StockLine]:
        """Each line with its verdicts, in order. Lines that mean the same share their verdicts."""
        lines = [LineName(name) if isinstance(name, str) else name for name in names]
        resolutions = within_time(resolve_lines(self._library, lines))
        for name, resolution in zip(lines, resolutions, strict=True):
            yield StockLine(name.shown, resolution, self._verdicts(resolution), name.common)

    def _verdicts(self, resolution: Resolution) -> Verdicts:
        naming = self._library.naming(resolution)
        known = self._known.get(naming)
        if known is None:
            if len(self._known) * len(self._inquiry.questions) > _FINDINGS_KEPT:
                self._known.clear()
            known = self._known[naming] = self._work_out(naming)
        return known

    def _work_out(self, naming: Naming) -> Verdicts:
        check_deadline()
        lanes = self._lanes.of(naming) if self._lanes is not None else ()
        return Verdicts(self._inquiry.findings(naming), lanes)
