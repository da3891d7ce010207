"""Plants to use instead: like the one replaced, with no entry found for the acts asked and a low
chance of escape.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from service.substitutes.likeness import ALIKE, Distance, distance_between, in_words
from service.substitutes.parameters import Dimension, weights
from service.values.plants import Plant
from service.values.vocabulary import OUTCOMES, Coverage, Outcome, PlantId

EscapeClass = Literal["low", "moderate", "high"]


@dataclass(frozen=True, slots=True)
class CandidateFacts:
    """What is known of a plant that may stand in.

    Attributes:
        outcome: the strictest finding over the acts asked and the places of the answer.
        coverage: how completely the lists behind that finding are held, the least complete of them.
        verified: False where the finding rests on an entry that was not seen in the text.
        escape: class at this site; None where it was not worked out.
        fits: whether it would live there, as the fit says; None where that was not asked.
    """

    plant: Plant
    outcome: Outcome
    coverage: Coverage
    escape: EscapeClass | None
    verified: bool = True
    fits: str | None = None


@dataclass(frozen=True, slots=True)
class Substitute:
    """One plant to use instead.

    Attributes:
        distance_low, distance_high: 0 alike, 1 unlike; a range where traits are not known.
        native_here: native to the region asked; None where no region was asked.
        alike, differs: the ways in which the two plants are alike and differ, in words.
        unknown: the ways that could not be compared.
        rests_on: what this plant's own answer rests on, its weak points said.
        settled: False where its own finding is undetermined or its escape was not worked out.
    """

    plant_id: PlantId
    accepted_name: str
    distance_low: float
    distance_high: float
    native_here: bool | None
    outcome: Outcome
    coverage: Coverage
    escape: EscapeClass | None
    alike: tuple[str, ...]
    differs: tuple[str, ...]
    unknown: tuple[str, ...]
    rests_on: tuple[str, ...]
    settled: bool


@dataclass(frozen=True, slots=True)
class Substitutes:
    """Plants to use instead of one, natives of the region first, then by likeness.

    Attributes:
        offered: no entry found for the acts asked, escape low or moderate here.
        unsettled: like plants whose own answer is open; they are named so that somebody can settle
            it.
        left_out: how many candidates were passed over, by reason.
    """

    plant_id: PlantId
    region: str | None
    offered: tuple[Substitute, ...]
    unsettled: tuple[Substitute, ...]
    left_out: tuple[tuple[str, int], ...]
    statement: str


def substitutes(
    target: Plant,
    candidates: Sequence[CandidateFacts],
    region: str | None,
    *,
    target_outcome: Outcome = "no-entry-found",
    most: int = 5,
) -> Substitutes:
    """Rank the candidates that may stand in for ``target``.

    A candidate is offered when its finding is ``no-entry-found`` and its escape class low or
    moderate. One whose finding is undetermined, or whose escape is unknown, stands apart under
    ``unsettled``, and only where its finding is no stricter than ``target_outcome``.

    Args:
        region: of the native range, as ``region_of`` gives it; None puts likeness alone in order.
        target_outcome: the strictest finding of the plant replaced.
        most: how many to name in each group.
    """
    left_out: dict[str, int] = {}
    offered: list[tuple[CandidateFacts, Distance]] = []
    unsettled: list[tuple[CandidateFacts, Distance]] = []
    for facts in candidates:
        distance = distance_between(target.traits, facts.plant.traits)
        reason = _why_not(target, facts, target_outcome, distance)
        if reason:
            left_out[reason] = left_out.get(reason, 0) + 1
            continue
        (offered if _settled(facts) else unsettled).append((facts, distance))
    offered.sort(key=lambda pair: _order(pair[0], pair[1], region))
    unsettled.sort(key=lambda pair: _order(pair[0], pair[1], region))
    return Substitutes(
        target.plant_id,
        region,
        tuple(_substitute(target, *pair, region) for pair in offered[:most]),
        tuple(_substitute(target, *pair, region) for pair in unsettled[:most]),
        tuple(sorted(left_out.items())),
        _statement(target, len(offered), len(unsettled)),
    )


def _why_not(
    target: Plant, facts: CandidateFacts, target_outcome: Outcome, distance: Distance
) -> str:
    plant = facts.plant
    if (
        plant.plant_id == target.plant_id
        or plant.parent_id == target.plant_id
        or target.parent_id == plant.plant_id
    ):
        return "the same plant"
    if target.plant_id in plant.hybrid_parents:
        return "a hybrid of the same plant"
    if OUTCOMES.index(facts.outcome) < OUTCOMES.index(target_outcome):
        return "a stricter finding than the plant replaced"
    if facts.outcome not in ("no-entry-found", "undetermined"):
        return "an entry was found for it"
    if facts.escape == "high":
        return "a high chance of escape here"
    if facts.fits == "does-not-fit":
        return "does not fit the position"
    if distance.high > weights().limit or _form_is_other(distance):
        return "not alike enough, or too little known of it"
    return ""


def _form_is_other(distance: Distance) -> bool:
    form = distance.parts["form"]
    return form is None or form > weights().form_limit


def _substitute(
    target: Plant, facts: CandidateFacts, distance: Distance, region: str | None
) -> Substitute:
    traits = facts.plant.traits

    def words(wanted: Callable[[float | None], bool]) -> tuple[str, ...]:
        chosen: list[Dimension] = [
            dimension for dimension, part in distance.parts.items() if wanted(part)
        ]
        return tuple(in_words(dimension, target.traits, traits) for dimension in chosen)

    native = _native(facts.plant, region)
    return Substitute(
        plant_id=facts.plant.plant_id,
        accepted_name=facts.plant.accepted_name,
        distance_low=round(distance.low, 4),
        distance_high=round(distance.high, 4),
        native_here=native,
        outcome=facts.outcome,
        coverage=facts.coverage,
        escape=facts.escape,
        alike=words(lambda part: part is not None and part <= ALIKE),
        differs=words(lambda part: part is not None and part > ALIKE),
        unknown=words(lambda part: part is None),
        rests_on=_rests_on(facts, region, native),
        settled=_settled(facts),
    )


def _rests_on(facts: CandidateFacts, region: str | None, native: bool | None) -> tuple[str, ...]:
    lines: list[str] = []
    if facts.outcome == "undetermined":
        lines.append("Its own finding is undetermined: ask the state authority before buying it.")
    elif facts.coverage == "complete":
        lines.append("No entry was found for it in lists that are held completely.")
    else:
        held = "in part only" if facts.coverage == "partial" else "not at all"
        lines.append(
            f"No entry was found for it, but the lists are held {held}; confirm with the state authority."
        )
    if not facts.verified:
        lines.append("Its finding rests on an entry that was not seen in the text.")
    if facts.escape is None:
        lines.append("Its chance of escape here was not worked out.")
    else:
        lines.append(f"Its chance of escape here is {facts.escape}, as far as the facts given go.")
    if region is not None:
        where = region.replace("-", " ")
        lines.append(
            f"Native to the {where} region, not to every place in it."
            if native
            else f"Not known as native to the {where} region."
        )
    return tuple(lines)


def _settled(facts: CandidateFacts) -> bool:
    return facts.outcome == "no-entry-found" and facts.escape is not None


def _native(plant: Plant, region: str | None) -> bool | None:
    if region is None:
        return None
    return (
        plant.traits.native_north_america in ("yes", "part")
        and region in plant.traits.native_regions
    )


def _order(
    facts: CandidateFacts, distance: Distance, region: str | None
) -> tuple[bool, float, str]:
    return not _native(facts.plant, region), round(distance.high, 4), facts.plant.accepted_name


def _statement(target: Plant, offered: int, unsettled: int) -> str:
    name = target.accepted_name
    if offered:
        return f"{offered} like plant(s) with no entry found here and a low or moderate chance of escape stand in for {name}."
    if unsettled:
        return f"No like plant with a settled answer stands in for {name}; {unsettled} have an open one, said with each."
    return f"No plant held here is like enough to stand in for {name} and passes; ask a native-plant nursery of the region."
