"""What is asked of the law for a planting, and what its findings come to."""

from collections.abc import Iterable, Sequence
from datetime import date

from service.checks.plan.request import Planting
from service.checks.plan.values import Role, SiteAnswer
from service.regulation.finding import Finding, Question
from service.regulation.for_name import Naming
from service.regulation.restricted import restricted_in
from service.regulation.shipping import Lane, ship
from service.store.library import Library
from service.values.site import Locality
from service.values.vocabulary import (
    JURISDICTION_NAMES,
    OUTCOMES,
    Act,
    CountyFips,
    Jurisdiction,
    Outcome,
)

_HANDS_OFF: frozenset[Act] = frozenset({"release", "export"})
"""Acts whose bar alone leaves the plant where it may stand contained."""


def questions_of(
    site: SiteAnswer, acts: Sequence[Act], on: date
) -> tuple[tuple[Role, Question], ...]:
    """What is asked of the law: the acts in the site's state and in its neighbours, release
    wherever its water can go.
    """
    return tuple(
        law_questions(
            site.locality.state,
            site.locality.county,
            site.neighbours,
            site.downstream_states,
            acts,
            on,
        )
    )


def lane_of(
    library: Library, naming: Naming, planting: Planting, locality: Locality, on: date
) -> Lane | None:
    """The way to the site from where the planting is brought from; None where either is not
    known.
    """
    if planting.brought_from is None or locality.state is None:
        return None
    return ship(library.law, naming, planting.brought_from, locality.state, on, locality.county)


def law_questions(
    state: Jurisdiction | None,
    county: CountyFips | None,
    neighbours: Sequence[Jurisdiction],
    downstream: Sequence[Jurisdiction],
    acts: Sequence[Act],
    on: date,
) -> Iterable[tuple[Role, Question]]:
    """The same from the bare facts of a site. What is to be bought there, somebody must sell."""
    if state is None:
        return
    yield from (("site", Question(state, act, on, county)) for act in acts)
    if "buy" in acts and "sell" not in acts:
        yield "supply", Question(state, "sell", on, county)
    yield from (
        ("neighbour", Question(neighbour, act, on)) for neighbour in neighbours for act in acts
    )
    if "release" not in acts:
        yield "water", Question(state, "release", on, county)
    yield from (
        ("water", Question(state_below, "release", on))
        for state_below in downstream
        if "release" not in acts or state_below not in neighbours
    )


def is_answered(role: Role, finding: Finding) -> bool:
    """Whether a finding belongs in the answer: the sale that buying needs only where the law bars
    it, for nobody asked about it otherwise.
    """
    return role != "supply" or finding.outcome in ("prohibited", "permit-required")


def strictest_of(findings: Sequence[Finding], lane: Lane | None) -> tuple[Outcome | None, bool]:
    """The strictest outcome; and whether it was read: a bar needs one finding that was, silence
    needs all.
    """
    found = [(finding.outcome, finding.verified) for finding in findings] + (
        [(lane.outcome, lane.verified)] if lane else []
    )
    if not found:
        return None, False
    outcome = min((outcome_found for outcome_found, _ in found), key=OUTCOMES.index)
    if outcome in ("no-entry-found", "listed-other-acts"):
        return outcome, all(verified for _, verified in found)
    return outcome, any(verified for outcome_found, verified in found if outcome_found == outcome)


def barring_duty(findings: Sequence[Finding]) -> str | None:
    """The duty that the law lays on a plant, in words, where it bars an act asked about; None where
    it bars none.
    """
    barring = [
        finding
        for finding in findings
        if finding.outcome == "prohibited" and finding.act not in _HANDS_OFF
    ]
    if not barring:
        return None
    duties = dict.fromkeys(
        f"{citation.duty} ({citation.title}, {citation.class_name})"
        for finding in barring
        for citation in finding.citations
        if citation.outcome == "prohibited" and citation.duty in ("control", "eradicate", "report")
    )
    return "; ".join(duties)


def restricted(library: Library, naming: Naming, on: date) -> tuple[Jurisdiction, ...]:
    """Jurisdictions that bar or limit selling or planting any plant that is meant."""
    found = {
        jurisdiction
        for subject in naming.subjects
        for jurisdiction in restricted_in(library.law, subject, on)
    }
    return tuple(jurisdiction for jurisdiction in JURISDICTION_NAMES if jurisdiction in found)
