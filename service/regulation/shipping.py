"""Shipping from one state to another, here called a lane: the movement between states, what the
origin bars, what the destination bars.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from service.regulation.finding import Finding, Question
from service.regulation.for_name import Inquiry, Naming, law_reasons
from service.regulation.law import LawBook
from service.values.vocabulary import FEDERAL, OUTCOMES, Act, CountyFips, Jurisdiction, Outcome

ORIGIN_ACTS: tuple[Act, ...] = ("export", "sell", "transport")
DESTINATION_ACTS: tuple[Act, ...] = ("import", "sell", "buy", "possess")


@dataclass(frozen=True, slots=True)
class Lane:
    """Shipping one plant from one state to another.

    Attributes:
        outcome: the strictest of all steps.
        steps: federal movement, then the origin's acts, then the destination's.
        reasons: of the steps that say something of it, strictest first, each naming its step.
        permit_authorities: who issues a permit, where a step can be taken with one.
    """

    origin: Jurisdiction
    destination: Jurisdiction
    outcome: Outcome
    verified: bool
    steps: tuple[Finding, ...]
    reasons: tuple[str, ...]
    permit_authorities: tuple[str, ...]


def ship(
    law: LawBook,
    naming: Naming,
    origin: Jurisdiction,
    destination: Jurisdiction,
    on: date,
    county: CountyFips | None = None,
) -> Lane:
    """The lane for one label.

    Args:
        county: of the destination.
    """
    return ship_all(law, naming, origin, (destination,), on, county)[0]


def ship_all(
    law: LawBook,
    naming: Naming,
    origin: Jurisdiction,
    destinations: Sequence[Jurisdiction],
    on: date,
    county: CountyFips | None = None,
) -> tuple[Lane, ...]:
    """The lanes for one label from one state, in the order of the destinations."""
    return Lanes(law, origin, destinations, on, county).of(naming)


class Lanes:
    """Lanes from one state, to be found for one label after another.

    Args:
        county: of each destination.
    """

    def __init__(
        self,
        law: LawBook,
        origin: Jurisdiction,
        destinations: Sequence[Jurisdiction],
        on: date,
        county: CountyFips | None = None,
    ) -> None:
        self._origin = origin
        position: dict[Question, int] = {}
        self._steps: list[tuple[Jurisdiction, list[int]]] = []
        for destination in destinations:
            questions = _questions(origin, destination, on, county)
            steps = [position.setdefault(question, len(position)) for question in questions]
            self._steps.append((destination, steps))
        self._inquiry = Inquiry(law, position)

    def of(self, naming: Naming) -> tuple[Lane, ...]:
        """The lane to each destination, in order; what lanes share is found once."""
        findings = self._inquiry.findings(naming)
        return tuple(
            _lane(self._origin, destination, tuple(findings[step] for step in steps))
            for destination, steps in self._steps
        )


@lru_cache(maxsize=20_000)
def _lane(origin: Jurisdiction, destination: Jurisdiction, steps: tuple[Finding, ...]) -> Lane:
    ordered = sorted(steps, key=lambda step: OUTCOMES.index(step.outcome))
    outcome = ordered[0].outcome
    return Lane(
        origin=origin,
        destination=destination,
        outcome=outcome,
        verified=_verified(ordered, outcome),
        steps=steps,
        reasons=tuple(
            dict.fromkeys(
                _step_reason(step) for step in ordered if step.outcome != "no-entry-found"
            )
        ),
        permit_authorities=_authorities(ordered),
    )


def _verified(steps: Sequence[Finding], outcome: Outcome) -> bool:
    """A bar rests on the step that has it; that nothing bars the lane rests on every step."""
    if outcome in ("listed-other-acts", "no-entry-found"):
        return all(step.verified for step in steps)
    return any(step.verified for step in steps if step.outcome == outcome)


@lru_cache(maxsize=4_096)
def _questions(
    origin: Jurisdiction, destination: Jurisdiction, on: date, county: CountyFips | None
) -> tuple[Question, ...]:
    movement = "within" if origin == destination else "interstate"
    federal = (
        [] if movement == "within" else [Question(FEDERAL, "transport", on, movement="interstate")]
    )
    # The federal step stands by itself, so the states' steps ask for state law alone.
    from_origin = [
        Question(origin, act, on, movement="within")
        for act in ORIGIN_ACTS
        if movement == "interstate" or act != "export"
    ]
    to_destination = [
        Question(destination, act, on, county, movement="within")
        for act in DESTINATION_ACTS
        if movement == "interstate" or act != "import"
    ]
    return tuple(dict.fromkeys([*federal, *from_origin, *to_destination]))


def _step_reason(finding: Finding) -> str:
    return f"{finding.jurisdiction} {finding.act}: {finding.outcome}. {law_reasons(finding)[0]}"


def _authorities(steps: Sequence[Finding]) -> tuple[str, ...]:
    if any(step.outcome == "prohibited" for step in steps):
        return ()
    return tuple(
        dict.fromkeys(
            citation.authority
            for step in steps
            for citation in step.citations
            if citation.outcome == "permit-required"
        )
    )
