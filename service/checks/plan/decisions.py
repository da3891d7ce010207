"""What to decide first, and whom to ask about what."""

from collections.abc import Callable, Iterable, Sequence
from typing import get_args

from service.checks.plan.passing import bears, native_to
from service.checks.plan.values import (
    Confirmation,
    Decision,
    DecisionKind,
    PlantingAnswer,
    SiteAnswer,
    Unsettled,
)
from service.regulation.finding import Finding
from service.values.vocabulary import JURISDICTION_NAMES, Outcome

RANKING = (
    "What the law found here bars comes first; then what nothing can be said without (the state); then what needs a permit; then names, "
    "since a look-alike may be the barred one; then entries that a county, date or condition decides; then law that is not settled here. "
    "What cannot be held, escapes or does not live here follows; then the facts that would narrow the answer most; last, law that was not "
    "seen in the text."
)
MOST_FACTS = 3
"""Facts to find out that are named among the decisions; all stand in the list of unsettled
facts.
"""

_KINDS: tuple[DecisionKind, ...] = get_args(DecisionKind)


def decisions(
    site: SiteAnswer, plantings: Sequence[PlantingAnswer], facts: Sequence[Unsettled]
) -> tuple[Decision, ...]:
    """In order of rank, each with the plantings that it concerns."""
    found = [
        *_by_outcome("prohibited", "prohibited", "Leave out {names}: {where}.", plantings),
        *_state(site, plantings),
        *_by_outcome(
            "permit-required",
            "permit-required",
            "Ask for a permit before anything is bought, or leave out {names}: {where}.",
            plantings,
        ),
        *_names(plantings),
        *_by_outcome(
            "conditional", "conditional", "Settle what decides for {names}: {where}.", plantings
        ),
        *_by_outcome(
            "undetermined",
            "undetermined",
            "Ask about {names}: the law held here does not settle it in {places}.",
            plantings,
        ),
        *_in_place(site, plantings),
        *_facts(facts),
        *_unverified(plantings),
    ]
    found.sort(key=lambda each: _KINDS.index(each[0]))
    return tuple(Decision(rank, *rest) for rank, rest in enumerate(found, start=1))


def confirmations(plantings: Sequence[PlantingAnswer]) -> tuple[Confirmation, ...]:
    """By authority: what to ask it, those with the most to settle first."""
    about: dict[str, dict[str, None]] = {}
    numbers: dict[str, dict[int, None]] = {}

    def ask(authorities: str, what: str, planting: int) -> None:
        whom = "; ".join(dict.fromkeys(authorities.split("; ")))
        about.setdefault(whom, {})[what] = None
        numbers.setdefault(whom, {})[planting] = None

    for planting in plantings:
        for finding in _findings(planting):
            place = JURISDICTION_NAMES[finding.jurisdiction]
            if finding.outcome != "no-entry-found":
                mark = "" if finding.verified else ", unverified here"
                ask(
                    finding.confirm_with,
                    f"{planting.name}: {finding.act} in {place} ({finding.outcome}{mark})",
                    planting.number,
                )
            elif not finding.verified:
                ask(
                    finding.confirm_with,
                    f"plants for which no entry was found in the lists held in part, to {finding.act} in {place}",
                    planting.number,
                )
        if not planting.resolution.confirmed and planting.resolution.to_confirm:
            ask(
                "the grower or seller",
                f"{planting.label}: {planting.resolution.to_confirm}",
                planting.number,
            )
    order = sorted(about, key=lambda whom: (-len(numbers[whom]), whom))
    return tuple(Confirmation(whom, tuple(about[whom]), tuple(numbers[whom])) for whom in order)


_Draft = tuple[DecisionKind, str, str, tuple[int, ...], str, tuple[int, ...]]


def _findings(planting: PlantingAnswer) -> Iterable[Finding]:
    yield from (each.finding for each in planting.findings)
    if planting.lane is not None:
        yield from planting.lane.lane.steps


def _by_outcome(
    outcome: Outcome, kind: DecisionKind, title: str, plantings: Sequence[PlantingAnswer]
) -> Iterable[_Draft]:
    concerned = [each for each in plantings if _outcome_that_bears(each) == outcome]
    if not concerned:
        return
    where: dict[str, None] = {}
    ask: dict[str, None] = {}
    sources: dict[int, None] = {}
    for planting in concerned:
        for each in planting.findings:
            if each.finding.outcome == outcome and bears(each, planting.escape):
                where[f"{JURISDICTION_NAMES[each.finding.jurisdiction]} ({each.finding.act})"] = (
                    None
                )
                ask[each.finding.confirm_with] = None
                sources |= dict.fromkeys(each.sources)
        if planting.lane is not None and planting.lane.lane.outcome == outcome:
            for step, numbers in zip(planting.lane.lane.steps, planting.lane.sources, strict=True):
                if step.outcome == outcome:
                    where[
                        f"{JURISDICTION_NAMES[step.jurisdiction]} ({step.act}, on the way in)"
                    ] = None
                    ask[step.confirm_with] = None
                    sources |= dict.fromkeys(numbers)
    words = title.format(
        names=_list(each.name for each in concerned),
        places=_list(where),
        where=f"{outcome.replace('-', ' ')} in {_list(where)}",
    )
    why = f"{len(concerned)} of {len(plantings)} plantings; the strictest that was found for them is {outcome}."
    yield kind, words, why, _numbers(concerned), "; ".join(ask), tuple(sources)


def _outcome_that_bears(planting: PlantingAnswer) -> Outcome | None:
    """The strictest outcome that keeps it off the shopping list."""
    found: list[Outcome] = [
        each.finding.outcome for each in planting.findings if bears(each, planting.escape)
    ]
    if planting.lane is not None:
        found.append(planting.lane.lane.outcome)
    order: tuple[Outcome, ...] = ("prohibited", "permit-required", "conditional", "undetermined")
    return next((outcome for outcome in order if outcome in found), None)


def _state(site: SiteAnswer, plantings: Sequence[PlantingAnswer]) -> Iterable[_Draft]:
    if site.locality.state is None:
        why = "Without a state no law is looked up for any planting."
        yield "state-unknown", "Say in which state the site lies.", why, _numbers(plantings), "", ()


def _names(plantings: Sequence[PlantingAnswer]) -> Iterable[_Draft]:
    concerned = [each for each in plantings if not each.resolution.confirmed]
    if concerned:
        why = "The strictest answer over all that a label may mean is given; the botanical name narrows it."
        title = f"Get the botanical name of {_list(repr(each.label) for each in concerned)}."
        yield "name-open", title, why, _numbers(concerned), "the grower or seller", ()


def _in_place(site: SiteAnswer, plantings: Sequence[PlantingAnswer]) -> Iterable[_Draft]:
    tests: tuple[tuple[DecisionKind, str, str, Callable[[PlantingAnswer], bool]], ...] = (
        (
            "nothing-holds",
            "Choose another plant or another place for {names}: nothing designed here holds it.",
            "Every measure only slows it, and it can reach water.",
            lambda each: _held_not(each) and not native_to(each.plants, site.region),
        ),
        (
            "escape-high",
            "Close the ways out of the place before {names} goes in, or choose another plant.",
            "Chance of escape high by its upper end; the plant is not native to the region.",
            lambda each: (
                each.escape is not None
                and each.escape.escape_class == "high"
                and not native_to(each.plants, site.region)
            ),
        ),
        (
            "does-not-fit",
            "Move or change {names}: it does not fit where it is planned.",
            "A need of the plant is not met by the place.",
            lambda each: each.worst_fit is not None and each.worst_fit.verdict == "does-not-fit",
        ),
    )
    barred = {each.number for each in plantings if _outcome_that_bears(each) == "prohibited"}
    for kind, title, why, test in tests:
        concerned = [each for each in plantings if each.number not in barred and test(each)]
        if concerned:
            yield (
                kind,
                title.format(names=_list(each.name for each in concerned)),
                why,
                _numbers(concerned),
                "",
                (),
            )


def _held_not(planting: PlantingAnswer) -> bool:
    containment, escape = planting.worst_containment, planting.escape
    return (
        containment is not None
        and containment.verdict == "nothing-holds"
        and escape is not None
        and escape.escape_class != "low"
    )


def _facts(facts: Sequence[Unsettled]) -> Iterable[_Draft]:
    for fact in [each for each in facts if each.fact != "site.state"][:MOST_FACTS]:
        title = f"Find out, of {fact.of}: {_begun_small(fact.question)}"
        yield (
            "fact-missing",
            title,
            f"It would narrow {fact.why}." if not fact.fact.startswith("site.") else fact.why,
            fact.plantings,
            fact.look_up,
            (),
        )


def _unverified(plantings: Sequence[PlantingAnswer]) -> Iterable[_Draft]:
    concerned = [
        each
        for each in plantings
        if each.outcome in ("prohibited", "permit-required", "conditional") and not each.verified
    ]
    if concerned:
        title = f"Have the law on {_list(each.name for each in concerned)} checked in the text: it was not seen here."
        ask = dict.fromkeys(
            each.confirm_with
            for planting in concerned
            for each in _findings(planting)
            if not each.verified and each.citations
        )
        sources = dict.fromkeys(
            number
            for planting in concerned
            for each in planting.findings
            if not each.finding.verified
            for number in each.sources
        )
        why = "The finding rests on a text that was read in part or written from memory."
        yield "unverified", title, why, _numbers(concerned), "; ".join(ask), tuple(sources)


def _begun_small(question: str) -> str:
    return question if question[1:2].isupper() else question[0].lower() + question[1:]


def _numbers(plantings: Sequence[PlantingAnswer]) -> tuple[int, ...]:
    return tuple(each.number for each in plantings)


def _list(words: Iterable[str]) -> str:
    several = list(dict.fromkeys(words))
    if len(several) > 6:
        return f"{', '.join(several[:5])} and {len(several) - 5} more"
    return (
        " and ".join(several)
        if len(several) < 3
        else f"{', '.join(several[:-1])} and {several[-1]}"
    )
