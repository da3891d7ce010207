"""Item by state, as a web shop can use it: hold, ask, or nothing found."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from service.checks.stock import StockLine, StockQuestion
from service.regulation.finding import Finding
from service.regulation.shipping import Lane
from service.values.vocabulary import OUTCOMES, Jurisdiction, Outcome, strictest

Decision = Literal["nothing-found", "ask", "hold"]
_HOLD: frozenset[Outcome] = frozenset({"prohibited", "permit-required"})


@dataclass(frozen=True, slots=True)
class ShippingCell:
    """What to do with one line for one state.

    Attributes:
        decision: ``hold``: a list or a rule of one's own bars it or asks for a permit. ``ask``: it
            depends, or it is listed for other acts, or nothing can be said, or the name is open.
            ``nothing-found``: the name is sure and no entry was found; this is not a permission.
        outcome: the strictest that the decision rests on.
        grounds: the findings and shipments with that outcome.
        own_rule: titles of rules of one's own that decide, where they are stricter than the law.
    """

    jurisdiction: Jurisdiction
    decision: Decision
    outcome: Outcome
    grounds: tuple[Finding | Lane, ...]
    own_rules: tuple[str, ...] = ()


def shipping_row(line: StockLine, question: StockQuestion) -> tuple[ShippingCell, ...]:
    """A decision for each place asked about, in order; the strictest over acts and shipment."""
    return _cells(line, question.jurisdictions)


def held_places(line: StockLine, question: StockQuestion) -> tuple[ShippingCell, ...]:
    """The places alone where the line is held back."""
    held = {finding.jurisdiction for finding in line.verdicts.findings if _holds(finding)}
    held.update(lane.destination for lane in line.verdicts.lanes if lane.outcome in _HOLD)
    return _cells(line, [place for place in question.jurisdictions if place in held])


def _holds(finding: Finding) -> bool:
    if not finding.own_rules:
        return finding.outcome in _HOLD
    return not _HOLD.isdisjoint((finding.outcome, *(rule.outcome for rule in finding.own_rules)))


def _cells(line: StockLine, places: Sequence[Jurisdiction]) -> tuple[ShippingCell, ...]:
    if not places:
        return ()
    findings: dict[Jurisdiction, list[Finding]] = defaultdict(list)
    lanes: dict[Jurisdiction, list[Lane]] = defaultdict(list)
    wanted = frozenset(places)
    for finding in line.verdicts.findings:
        if finding.jurisdiction in wanted:
            findings[finding.jurisdiction].append(finding)
    for lane in line.verdicts.lanes:
        lanes[lane.destination].append(lane)
    sure = line.resolution.confirmed
    return tuple(_cell(place, findings[place], lanes[place], confirmed=sure) for place in places)


def _cell(
    place: Jurisdiction, findings: Sequence[Finding], lanes: Sequence[Lane], *, confirmed: bool
) -> ShippingCell:
    all_grounds: Sequence[Finding | Lane] = [*findings, *lanes]
    outcome = strictest([ground.outcome for ground in all_grounds])
    rules = [rule for finding in findings for rule in finding.own_rules]
    strictest_rule = strictest([*(rule.outcome for rule in rules), "no-entry-found"])
    decision = _decision(outcome, strictest_rule, confirmed=confirmed)
    by_rule = OUTCOMES.index(strictest_rule) < OUTCOMES.index(outcome)
    return ShippingCell(
        jurisdiction=place,
        decision=decision,
        outcome=strictest_rule if by_rule else outcome,
        grounds=()
        if by_rule
        else tuple(ground for ground in all_grounds if ground.outcome == outcome),
        own_rules=tuple(
            dict.fromkeys(rule.title for rule in rules if rule.outcome == strictest_rule)
        )
        if by_rule
        else (),
    )


def _decision(law: Outcome, own_rule: Outcome, *, confirmed: bool) -> Decision:
    if law in _HOLD or own_rule in _HOLD:
        return "hold"
    if law != "no-entry-found" or own_rule != "no-entry-found" or not confirmed:
        return "ask"
    return "nothing-found"
