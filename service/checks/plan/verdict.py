"""The verdict of a planting: one place decides it, and every form of the answer shows it.

Each thing against a planting, and each condition to meet, is a ``Ground``. One ground that holds
back makes ``hold-back``; any other makes ``with-care``; none is ``nothing-against``, which says
what was looked for and not found, never that the plant may be had.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import get_args

from service.checks.plan.meanings import OUTCOME_WORDS, STRICT, OnePlant, name_grounds
from service.checks.plan.values import (
    Ground,
    GroundKind,
    HeldBack,
    PlanFinding,
    PlanLane,
    PlantingAnswer,
    ShoppingLine,
    ShoppingList,
)
from service.containment import ContainmentPlan
from service.escape import Assessment, ScreenedEscape, ScreenedWater, WaterAssessment
from service.fit import DECIDING, Aspect, Fit
from service.names import Resolution
from service.values.plants import Plant
from service.values.site import Locality, Position
from service.values.vocabulary import JURISDICTION_NAMES, Jurisdiction, Outcome
from service.values.words import joined

PASSES_MEANS = (
    "A plant is on this list when nothing here holds it back: no list loaded bars it for the acts "
    "asked, its name is clear enough for the law, it can live in its place, and it is native "
    "to the "
    "state or not likely to escape. Conditions to meet are beside it. The list does not say that a "
    "plant may be bought, kept or planted: lists may be loaded in part, local rules are not looked "
    "at, and whom to ask is beside."
)
FEW_STATES = 3
"""A plant that more states than this bar or limit is planted with care anywhere: common practice,
no source.
"""
MOST_NAMED = 4

_KINDS: tuple[GroundKind, ...] = get_args(GroundKind)
_TO_HOLD: dict[str, str] = {
    "solid-pot": "keep it in its pot, trim what grows over the rim and cut seed heads",
    "no-drain-tub": "keep it in its tub, trim what grows over the rim and cut seed heads",
    "foam-island": "trim what grows beyond the island and cut seed heads",
    "floating-ring": "keep it inside the ring and take out what drifts over it",
}


@dataclass(frozen=True, slots=True)
class PlantingFacts:
    """What the verdict of a planting is decided from.

    Attributes:
        plants: all that the label may mean; ``fits`` has one value for each.
        escape: None where no place is known.
        containment: that which holds least over the plants; None where none was designed.
        native: every plant that is meant is native to the site's state.
    """

    resolution: Resolution
    plants: tuple[Plant, ...]
    position: Position
    findings: tuple[PlanFinding, ...]
    lane: PlanLane | None
    fits: tuple[Fit, ...]
    escape: Assessment | ScreenedEscape | None
    containment: ContainmentPlan | None
    native: bool
    restricted_in: tuple[Jurisdiction, ...]


def grounds_of(
    facts: PlantingFacts,
    locality: Locality,
    found_state: Jurisdiction | None,
    meanings: Sequence[OnePlant],
    more: Sequence[Ground] = (),
) -> tuple[Ground, ...]:
    """All that is to be said for the verdict, the weightiest first.

    Args:
        found_state: the state that the position or ZIP code lies in, as the store finds it.
        meanings: the plants that the label may mean, where it is not confirmed.
        more: grounds of the place as a whole, and of facts that could not be read.
    """
    found = [
        *_law(facts, locality.state, found_state),
        *name_grounds(facts.resolution, meanings),
        *_fit(facts),
        *_escape(facts),
        *_spread(facts),
        *_elsewhere(facts, locality.state),
        *more,
    ]
    found.sort(key=lambda ground: (not ground.holds_back, _KINDS.index(ground.kind)))
    return tuple(dict.fromkeys(found))


def shopping_list(plantings: Sequence[PlantingAnswer]) -> ShoppingList:
    """What is held back and what is not, in the order of the document."""
    return ShoppingList(
        passes_means=PASSES_MEANS,
        lines=tuple(
            ShoppingLine(
                planting.number,
                planting.verdict,
                planting.name,
                planting.label,
                planting.count,
                planting.place,
                planting.conditions,
            )
            for planting in plantings
            if planting.passes
        ),
        held_back=tuple(
            HeldBack(planting.number, planting.name, planting.conditions)
            for planting in plantings
            if not planting.passes
        ),
    )


def counts(found: PlanFinding, *, native: bool, escapes: bool) -> bool:
    """Whether a finding counts for the planting: always in the site's own state and near its
    line; the release law of a state that the water reaches, only for a plant that is not native
    and not unlikely to get there.
    """
    if found.role != "water":
        return True
    return found.finding.outcome in STRICT and not native and escapes


def _law(
    facts: PlantingFacts, state: Jurisdiction | None, found_state: Jurisdiction | None
) -> Iterable[Ground]:
    if state is None:
        text = "Say in which state the site lies: without it no law was looked up."
        yield Ground("state-unknown", True, text)
        return
    # Where the position lies in another state than the plan says, either may be the right one.
    contradicted = found_state not in (None, state)
    for jurisdiction, outcome, role, found in _grouped(facts):
        near = role == "neighbour" and not contradicted
        ground = _of_outcome(facts, jurisdiction, outcome, role, found, near=near)
        if ground is not None:
            yield ground
    if facts.lane is not None:
        lane = facts.lane.lane
        if lane.outcome in STRICT:
            mark = "" if lane.verified else " (unverified)"
            way = f"{_state(lane.origin)} to {_state(lane.destination)}"
            kind: GroundKind = lane.outcome  # type: ignore[assignment]
            yield Ground(
                kind,
                lane.outcome != "conditional",
                f"Bringing it from {way}: {OUTCOME_WORDS[lane.outcome]}{mark}.",
                (f"{way} (on the way in)",),
                "; ".join(dict.fromkeys(step.confirm_with for step in lane.steps)),
                tuple(sorted({number for step in facts.lane.sources for number in step})),
            )


def _grouped(
    facts: PlantingFacts,
) -> Iterable[tuple[Jurisdiction, Outcome, str, list[PlanFinding]]]:
    """Findings that agree, by jurisdiction, outcome and role."""
    groups: dict[tuple[Jurisdiction, Outcome, str], list[PlanFinding]] = {}
    escapes = facts.escape is None or facts.escape.escape_class != "low"
    for found in facts.findings:
        if counts(found, native=facts.native, escapes=escapes):
            key = (found.finding.jurisdiction, found.finding.outcome, found.role)
            groups.setdefault(key, []).append(found)
    for (jurisdiction, outcome, role), several in groups.items():
        yield jurisdiction, outcome, role, several


def _of_outcome(
    facts: PlantingFacts,
    jurisdiction: Jurisdiction,
    outcome: Outcome,
    role: str,
    found: list[PlanFinding],
    *,
    near: bool,
) -> Ground | None:
    if outcome == "no-entry-found":
        return None
    place = _state(jurisdiction)
    acts = joined([finding.finding.act for finding in found])
    mark = "" if all(finding.finding.verified for finding in found) else " (unverified)"
    where = (f"{place} ({acts})",)
    ask = "; ".join(dict.fromkeys(finding.finding.confirm_with for finding in found))
    sources = tuple(dict.fromkeys(number for finding in found for number in finding.sources))
    if role == "water":
        text = f"Keep it out of open water: {_barred_by(outcome, 'release', place)}{mark}."
        return Ground("release", False, text, where, ask, sources)
    if near and outcome in STRICT:
        text = f"Keep it on this side of the state line: {_barred_by(outcome, acts, place)}{mark}."
        return Ground("neighbour", False, text, where, ask, sources)
    if role == "supply":
        wanted = facts.native and outcome == "permit-required"
        text = f"It cannot be bought there: {_barred_by(outcome, acts, place)}{mark}."
        kind: GroundKind = "prohibited" if outcome == "prohibited" else "permit-required"
        return Ground(kind, not wanted, text, where, ask, sources)
    if outcome == "prohibited":
        text = f"{place} bars it ({acts}){mark}."
        return Ground("prohibited", True, text, where, ask, sources)
    if outcome == "permit-required":
        text = f"{place} asks for a permit before anyone may {acts} it{mark}."
        wanted = facts.native or not any(finding.finding.citations for finding in found)
        return Ground("permit-required", not wanted, text, where, ask, sources)
    if outcome == "conditional":
        text = f"Ask {_first(ask)}: may you {acts} it? A condition of {place}'s law decides{mark}."
        return Ground("conditional", False, text, where, ask, sources)
    if outcome == "listed-other-acts":
        text = f"{place} lists it, not for what is asked ({acts}): do not sell it or pass it on."
        return Ground("listed-other-acts", False, text, where, ask, sources)
    gap_alone = not any(finding.finding.citations for finding in found)
    if not facts.resolution.confirmed or near or (facts.native and gap_alone):
        # The open name is the ground; of a native, that a list is not complete is said once for the
        # whole plan, not as something against each plant.
        return None
    text = f"Ask {_first(ask)}: may you {acts} it? The law loaded for {place} does not decide it."
    return Ground("undetermined", False, text, where, ask, sources)


def _fit(facts: PlantingFacts) -> Iterable[Ground]:
    if not facts.plants:
        return
    if facts.escape is None:
        text = "Say in which pond, stream or bog it is to grow: fit and escape need one."
        yield Ground("place-unknown", False, text)
        return
    for plant, fit in zip(facts.plants, facts.fits, strict=True):
        # Of several plants that the label may mean, those that do not fit speak in the open name.
        for aspect in fit.aspects:
            if aspect.name in DECIDING and (
                facts.resolution.confirmed or aspect.verdict != "does-not-fit"
            ):
                yield from _of_aspect(aspect, fit, plant if len(facts.plants) > 1 else None)


def _of_aspect(aspect: Aspect, fit: Fit, plant: Plant | None) -> Iterable[Ground]:
    said = f"{plant.accepted_name}: " if plant is not None else ""
    if aspect.verdict == "does-not-fit":
        yield Ground("does-not-fit", True, f"{said}{aspect.found}")
    elif aspect.verdict == "fits-with-change" and aspect.change is not None:
        yield Ground("change", False, f"{said}{aspect.change.text}")
    elif aspect.verdict == "unknown":
        needed = joined(
            [missing.fact for missing in fit.missing if aspect.name in missing.needed_for]
        )
        yield Ground(
            "change", False, f"{said}{aspect.found}" + (f" Find out: {needed}." if needed else "")
        )


def _escape(facts: PlantingFacts) -> Iterable[Ground]:
    escape, containment = facts.escape, facts.containment
    if escape is None or facts.native or escape.escape_class in (None, "low"):
        return
    if not facts.resolution.confirmed and len(facts.plants) > 1:
        return  # each meaning is looked at by itself in the open name
    whole = escape.estimate
    chance = f"likely {whole.likely:.0%} in ten years, {whole.low:.0%} to {whole.high:.0%}"
    if containment is not None and containment.drifts_off:
        text = (
            "Nothing holds it here: it breaks into pieces and the water leaves. Choose "
            "another plant."
        )
        yield Ground("nothing-holds", True, text)
    elif escape.escape_class == "high":
        waters: Sequence[WaterAssessment | ScreenedWater] = escape.waters
        where = max(waters, key=lambda water: water.estimate.likely).name
        text = (
            f"It is not native here and likely to escape{f' to {where}' if where else ''} "
            f"({chance})."
        )
        yield Ground("escape-likely", True, text)
    elif _takes_over(facts):
        text = (
            f"It is not native here, spreads aggressively and is to grow in open ground ({chance})."
        )
        yield Ground("escape-likely", True, text)
    else:
        text = f"It may escape ({chance}): {_to_hold(facts)}."
        yield Ground("hold", False, text)


def _takes_over(facts: PlantingFacts) -> bool:
    """An aggressive plant from elsewhere in open ground that joins the bank or is flooded, where
    nothing closes that way.
    """
    open_ground = facts.position.holding == "open-ground"
    aggressive = any(plant.traits.spread_rate == "aggressive" for plant in facts.plants)
    unheld = facts.containment.unheld if facts.containment is not None else ()
    loose = any(way.stated and way.route in ("bank", "flood") for way in unheld)
    return open_ground and aggressive and loose


def _to_hold(facts: PlantingFacts) -> str:
    containment = facts.containment
    if containment is not None and containment.holding:
        return containment.holding
    return _TO_HOLD.get(facts.position.holding or "", "cut it back and keep it from open water")


def _spread(facts: PlantingFacts) -> Iterable[Ground]:
    spreading = [plant for plant in facts.plants if plant.traits.spread_rate == "aggressive"]
    if not spreading:
        return
    how = _TO_HOLD.get(
        facts.position.holding or "",
        "plant it where it may take over, or in a tub, and cut it back each year",
    )
    start = "Native, but it spreads" if facts.native else "It spreads"
    yield Ground("aggressive", False, f"{start} aggressively and crowds out other plants: {how}.")


def _elsewhere(facts: PlantingFacts, state: Jurisdiction | None) -> Iterable[Ground]:
    others = [place for place in facts.restricted_in if place not in (state, "US")]
    if facts.native or len(others) <= FEW_STATES:
        return
    named = [_state(place) for place in others[:MOST_NAMED]]
    more = len(others) - len(named)
    states = f"{', '.join(named)} and {more} more" if more else joined(named)
    text = f"{len(others)} other states bar or limit it ({states}): do not pass it on or let it go."
    yield Ground("restricted-elsewhere", False, text)


def _barred_by(outcome: Outcome, acts: str, place: str) -> str:
    """
    >>> _barred_by("permit-required", "release", "Ohio")
    'Ohio asks for a permit (release)'
    """
    if outcome == "prohibited":
        return f"{place} bars it ({acts})"
    if outcome == "permit-required":
        return f"{place} asks for a permit ({acts})"
    return f"whether {place} bars it ({acts}) depends on a condition of its law"


def _state(jurisdiction: Jurisdiction) -> str:
    return "federal law" if jurisdiction == "US" else JURISDICTION_NAMES[jurisdiction]


def _first(authorities: str) -> str:
    """The first office by its name alone; its address is with whom to ask."""
    return authorities.split("; ")[0].split(" (")[0] or "the state's authority"
