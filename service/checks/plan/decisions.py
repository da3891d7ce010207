"""What to decide first, and whom to ask about what."""

from collections.abc import Iterable, Sequence
from typing import get_args

from service.checks.plan.values import (
    Confirmation,
    Decision,
    DecisionKind,
    Ground,
    GroundKind,
    PlantingAnswer,
    Unsettled,
)
from service.regulation.finding import Finding
from service.values.vocabulary import JURISDICTION_NAMES

RANKING = (
    "What the law found here bars comes first; then what nothing can be said without (the state); "
    "then what needs a permit; then open names, since a look-alike may be the barred one; then "
    "entries that a condition decides, and law that is not decided here. What cannot live here, "
    "cannot be kept in or is likely to escape follows; then the facts that would narrow the answer "
    "most; last, law that was not seen in the text."
)
MOST_FACTS = 3
"""Facts to find out that are named among the decisions; all are in the list of open facts."""

_TITLES: dict[GroundKind, str] = {
    "prohibited": "Leave out {names}: barred in {where}.",
    "state-unknown": "Say in which state the site lies.",
    "permit-required": "Ask for a permit before buying {names}, or leave out: {where}.",
    "name-open": "Get the botanical name of {names}.",
    "conditional": "Ask whether you may have {names}: a condition decides in {where}.",
    "undetermined": "Ask about {names}: the law loaded here does not decide it in {where}.",
    "does-not-fit": "Move {names}, or choose another plant: it cannot live where it is planned.",
    "nothing-holds": "Choose another plant than {names}: nothing keeps it in this place.",
    "escape-likely": (
        "Choose another plant than {names}, or close the ways out first: likely to escape."
    ),
    "place-unknown": "Say in which pond, stream or bog {names} is to grow.",
}
_WHY: dict[GroundKind, str] = {
    "state-unknown": "Without a state no law is looked up for any planting.",
    "name-open": (
        "The strictest answer over all that a label may mean is given; the botanical "
        "name narrows it."
    ),
    "does-not-fit": "A need of the plant is not met by the place.",
    "nothing-holds": "Every measure only slows it, and it can reach water.",
    "escape-likely": "It is not native to the state and likely to get out and stay.",
    "place-unknown": "Fit, escape and containment are worked out for a place.",
}
_KINDS: tuple[DecisionKind, ...] = (*get_args(GroundKind), "fact-missing", "unverified")


def decisions(
    plantings: Sequence[PlantingAnswer], facts: Sequence[Unsettled]
) -> tuple[Decision, ...]:
    """In order of rank, each with the plantings that it concerns. Conditions of care that need
    nobody's answer stay with their planting.
    """
    found = [*_of_grounds(plantings), *_facts(facts), *_unverified(plantings)]
    found.sort(key=lambda draft: _KINDS.index(draft[0]))
    return tuple(Decision(rank, *rest) for rank, rest in enumerate(found, start=1))


def confirmations(plantings: Sequence[PlantingAnswer]) -> tuple[Confirmation, ...]:
    """By authority: what to ask it, those with the most to answer first."""
    about: dict[str, dict[str, None]] = {}
    numbers: dict[str, dict[int, None]] = {}

    def ask(authorities: str, what: str, planting: int) -> None:
        whom = _once([authorities])
        about.setdefault(whom, {})[what] = None
        numbers.setdefault(whom, {})[planting] = None

    for planting in plantings:
        for finding in _findings(planting):
            place = JURISDICTION_NAMES[finding.jurisdiction]
            if finding.outcome != "no-entry-found":
                mark = "" if finding.verified else ", unverified here"
                what = f"{planting.name}: {finding.act} in {place} ({finding.outcome}{mark})"
                ask(finding.confirm_with, what, planting.number)
            elif not finding.verified:
                what = (
                    f"May the plants without an entry be used to {finding.act} in {place}? The "
                    "lists loaded here are not complete."
                )
                ask(finding.confirm_with, what, planting.number)
        if not planting.resolution.confirmed and planting.resolution.to_confirm:
            what = f"{planting.label}: {planting.resolution.to_confirm}"
            ask("the grower or seller", what, planting.number)
    order = sorted(about, key=lambda whom: (-len(numbers[whom]), whom))
    return tuple(Confirmation(whom, tuple(about[whom]), tuple(numbers[whom])) for whom in order)


_Draft = tuple[DecisionKind, str, str, tuple[int, ...], str, tuple[int, ...]]


def _findings(planting: PlantingAnswer) -> Iterable[Finding]:
    yield from (found.finding for found in planting.findings)
    if planting.lane is not None:
        yield from planting.lane.lane.steps


def _of_grounds(plantings: Sequence[PlantingAnswer]) -> Iterable[_Draft]:
    """One decision a kind of ground, over all plantings that have it. What is barred is left out,
    so nothing else is to be decided of it.
    """
    gathered: dict[GroundKind, list[tuple[PlantingAnswer, Ground]]] = {}
    for planting in plantings:
        barred = any(ground.kind == "prohibited" for ground in planting.grounds)
        for ground in planting.grounds:
            if ground.kind in _TITLES and (ground.kind == "prohibited" or not barred):
                gathered.setdefault(ground.kind, []).append((planting, ground))
    for kind, pairs in gathered.items():
        concerned = list(dict.fromkeys(planting.number for planting, _ in pairs))
        names = _list(_called(planting) for planting, _ in pairs)
        where = _list(place for _, ground in pairs for place in ground.where)
        ask = _once(ground.ask for _, ground in pairs if ground.ask)
        sources = dict.fromkeys(number for _, ground in pairs for number in ground.sources)
        why = _WHY.get(kind, f"{len(concerned)} of {len(plantings)} plantings.")
        title = _TITLES[kind].format(names=names, where=where)
        yield kind, title, why, tuple(concerned), ask, tuple(sources)


def _once(authorities: Iterable[str]) -> str:
    """Each authority once, as it stands first."""
    return "; ".join(dict.fromkeys("; ".join(authorities).split("; ")))


def _called(planting: PlantingAnswer) -> str:
    """In the tag's own words, with the botanical name where that is another."""
    name = planting.name
    if name.casefold() in planting.label.casefold() or not planting.resolution.candidates:
        return planting.label
    return f"{planting.label} ({name})"


def _facts(facts: Sequence[Unsettled]) -> Iterable[_Draft]:
    for fact in [fact for fact in facts if fact.fact != "site.state"][:MOST_FACTS]:
        title = f"Find out for {fact.of}: {_begun_small(fact.question)}"
        why = fact.why if fact.fact.startswith("site.") else f"It would narrow {fact.why}."
        yield "fact-missing", title, why, fact.plantings, fact.look_up, ()


def _unverified(plantings: Sequence[PlantingAnswer]) -> Iterable[_Draft]:
    concerned = [
        planting
        for planting in plantings
        if planting.outcome in ("prohibited", "permit-required", "conditional")
        and not planting.verified
    ]
    if not concerned:
        return
    names = _list(planting.name for planting in concerned)
    ask = _once(
        finding.confirm_with
        for planting in concerned
        for finding in _findings(planting)
        if not finding.verified and finding.citations
    )
    sources = dict.fromkeys(
        number
        for planting in concerned
        for found in planting.findings
        if not found.finding.verified
        for number in found.sources
    )
    title = f"Have the law on {names} checked in the text: it was not seen here."
    why = "The finding rests on a text that was read in part or written from memory."
    numbers = tuple(planting.number for planting in concerned)
    yield "unverified", title, why, numbers, ask, tuple(sources)


def _begun_small(question: str) -> str:
    return question if question[1:2].isupper() else question[0].lower() + question[1:]


def _list(words: Iterable[str]) -> str:
    several = list(dict.fromkeys(words))
    if len(several) > 6:
        return f"{', '.join(several[:5])} and {len(several) - 5} more"
    if len(several) < 3:
        return " and ".join(several)
    return f"{', '.join(several[:-1])} and {several[-1]}"
