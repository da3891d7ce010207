"""What to plant instead: plants of the state's own flora, of like form, use and size, in trade,
that pass the same check in the same place.

Better none, with the reason, than a bad one.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from service.fit import DECIDING, Fit
from service.substitutes.likeness import Distance, distance_between
from service.substitutes.parameters import (
    TradeLevel,
    tell_apart,
    trade_levels,
    weights,
)
from service.values.nativity import Nativity
from service.values.plants import Plant, Range
from service.values.vocabulary import Jurisdiction, Outcome, PlantId
from service.values.words import joined

FEW_STATES = 3
"""A plant that more states than this bar or limit is not offered: common practice, no source."""
MOST = 5

Function = Literal["surface-cover", "shade", "flower", "height-accent", "oxygenator", "groundcover"]
_FUNCTIONS: dict[Function, str] = {
    "surface-cover": "covers the surface",
    "shade": "shades the water",
    "flower": "flowers",
    "height-accent": "stands high",
    "oxygenator": "grows under water",
    "groundcover": "covers the ground",
}
_UPRIGHT = ("emergent", "wet-soil")
_FORMS = {
    "emergent": "a plant of the shallow edge",
    "wet-soil": "a plant of wet ground",
    "floating-leaved": "rooted, with floating leaves",
    "free-floating": "a floating plant",
    "submerged": "an underwater plant",
}


@dataclass(frozen=True, slots=True)
class CandidateFacts:
    """What is known of a plant that may be offered.

    Attributes:
        common_name: empty where none is known.
        outcome: the law's strictest over the acts asked and the places of the answer.
        listed: an entry of a list was found for it, whatever it restricts.
        restricted_in: how many jurisdictions bar or limit selling or planting it.
        fit: in the place and position of the plant replaced; None where no place is known.
        barred_kin: accepted names of its own genus that the state bars.
    """

    plant: Plant
    common_name: str
    nativity: Nativity
    outcome: Outcome
    listed: bool
    restricted_in: int
    fit: Fit | None
    barred_kin: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Substitute:
    """One plant to use instead: native, in trade, and with nothing against it in the same place.

    Attributes:
        why: what it does like the plant replaced, in one sentence.
        tell_apart: how to tell it from a barred plant that it may be taken for; empty where there
            is none.
        distance: 0 alike, 1 unlike, by its upper end.
    """

    plant_id: PlantId
    accepted_name: str
    common_name: str
    why: str
    nativity: Nativity
    tell_apart: str
    distance: float


@dataclass(frozen=True, slots=True)
class Substitutes:
    """Plants to use instead of one, in the order of ``alike``.

    Attributes:
        reason: why there is none; empty where some are offered.
        left_out: how many like plants were passed over, by reason.
    """

    plant_id: PlantId
    plants: tuple[Substitute, ...]
    reason: str
    left_out: tuple[tuple[str, int], ...] = ()


def alike(
    target: Plant,
    plants: Iterable[Plant],
    state: Jurisdiction,
    levels: Mapping[str, TradeLevel] | None = None,
) -> list[Plant]:
    """Natives of the state in trade that do the same at a like size, the best first: native by a
    record of the state before native by its region, then of the same genus, then by likeness, in
    which a step in how commonly it is sold makes up for a little.

    Args:
        levels: how commonly each is sold; those of the data file if not given.
    """
    sold = trade_levels() if levels is None else levels
    found = []
    for plant in plants:
        if plant.accepted_name not in sold or not _may_be_offered(target, plant):
            continue
        nativity = plant.nativity(state)
        distance = distance_between(target.traits, plant.traits)
        if nativity.status == "native" and _like_enough(distance):
            level = sold[plant.accepted_name]
            key = (
                nativity.scope != "state",
                plant.genus != target.genus,
                round(distance.high - weights().trade_step * level, 4),
                plant.accepted_name,
            )
            found.append((key, plant))
    return [plant for _, plant in sorted(found, key=lambda pair: pair[0])]


def choose(
    target: Plant,
    candidates: Sequence[Plant],
    facts_of: Callable[[Plant], CandidateFacts],
    *,
    most: int = MOST,
) -> Substitutes:
    """The first candidates that pass, with the reason where none does.

    Args:
        candidates: of ``alike``, in that order.
        facts_of: asked only as long as fewer than ``most`` passed.
    """
    offered: list[Substitute] = []
    left_out: dict[str, int] = {}
    for plant in candidates:
        if len(offered) == most:
            break
        facts = facts_of(plant)
        reason = why_not(facts)
        if reason:
            left_out[reason] = left_out.get(reason, 0) + 1
        else:
            offered.append(_substitute(target, facts))
    why_none = "" if offered else _why_none(target, left_out)
    return Substitutes(target.plant_id, tuple(offered), why_none, tuple(sorted(left_out.items())))


def why_not(facts: CandidateFacts) -> str:
    """Why a like plant is not offered; empty where it is."""
    if facts.listed or facts.outcome not in ("no-entry-found", "undetermined"):
        return "the law here names them"
    if facts.restricted_in > FEW_STATES:
        return f"more than {FEW_STATES} states restrict them"
    if facts.fit is not None and not _lives(facts.fit):
        return "they do not fit the place as planned"
    if any(not tell_apart(facts.plant.accepted_name, kin) for kin in facts.barred_kin):
        return "they are easily taken for a barred plant"
    return ""


def _may_be_offered(target: Plant, plant: Plant) -> bool:
    traits = plant.traits
    return (
        not _same(target, plant)
        and traits.spread_rate != "aggressive"
        and _does_the_same(target, plant)
        and _of_like_size(target, plant)
    )


def _same(target: Plant, plant: Plant) -> bool:
    return (
        plant.plant_id == target.plant_id
        or plant.parent_id == target.plant_id
        or target.parent_id == plant.plant_id
        or target.plant_id in plant.hybrid_parents
    )


def _does_the_same(target: Plant, plant: Plant) -> bool:
    """Half or more of what the plant is planted for, and covering the surface or growing under
    water where that is among it.
    """
    wanted = {use for use in _FUNCTIONS if use in target.traits.uses}
    needed = {"surface-cover"} & wanted
    if target.traits.growth_form == "submerged":
        needed |= {"oxygenator"} & wanted
    shared = wanted & set(plant.traits.uses)
    return needed <= shared and 2 * len(shared) >= len(wanted)


def _of_like_size(target: Plant, plant: Plant) -> bool:
    """Heights of upright plants near enough; of others the height says nothing."""
    one, other = target.traits, plant.traits
    if one.growth_form not in _UPRIGHT or other.growth_form not in _UPRIGHT:
        return True
    if one.height_cm is None or other.height_cm is None:
        return False
    ratio = _middle(one.height_cm) / _middle(other.height_cm)
    return 1 / weights().height_most <= ratio <= weights().height_most


def _middle(height_cm: Range) -> float:
    return max(1.0, (height_cm.low + height_cm.high) / 2)


def _like_enough(distance: Distance) -> bool:
    form = distance.parts["form"]
    return form is not None and form <= weights().form_limit and distance.high <= weights().limit


def _lives(fit: Fit) -> bool:
    """Nothing that decides is against it. A fact of the place that nobody has given is open for
    every plant alike.
    """
    return all(
        aspect.verdict in ("fits", "unknown") for aspect in fit.aspects if aspect.name in DECIDING
    ) and not any(missing.field.startswith("plant.") for missing in fit.missing)


def _substitute(target: Plant, facts: CandidateFacts) -> Substitute:
    plant = facts.plant
    lookalikes = dict.fromkeys([target.accepted_name, *facts.barred_kin])
    lines = dict.fromkeys(tell_apart(plant.accepted_name, name) for name in lookalikes)
    return Substitute(
        plant_id=plant.plant_id,
        accepted_name=plant.accepted_name,
        common_name=facts.common_name,
        why=_why(target, facts),
        nativity=facts.nativity,
        tell_apart=" ".join(line for line in lines if line),
        distance=round(distance_between(target.traits, plant.traits).high, 4),
    )


def _why(target: Plant, facts: CandidateFacts) -> str:
    one, other = target.traits, facts.plant.traits
    shared = [text for use, text in _FUNCTIONS.items() if use in one.uses and use in other.uses]
    form = _FORMS.get(other.growth_form or "", "a water plant")
    does = f"; like {target.accepted_name} it {joined(shared)}" if shared else ""
    native = "Native to the state" if facts.nativity.scope == "state" else "Native to the region"
    fits = facts.fit is not None and facts.fit.verdict == "fits"
    lives = "lives at the depth, light and winter planned" if fits else "fits what is known here"
    ask = (
        "; the law loaded here is not complete, so ask before buying"
        if facts.outcome == "undetermined"
        else ""
    )
    found = (
        " Ask restoration and native-plant nurseries for it; that they grow it is common practice, "
        "no source."
        if trade_levels().get(facts.plant.accepted_name) == 0
        else ""
    )
    return f"{native}, {form}{does}; {lives}{ask}.{found}"


def _why_none(target: Plant, left_out: dict[str, int]) -> str:
    name = target.accepted_name
    if not left_out:
        return (
            f"No native plant of the state that is sold and known here does what {name} does at "
            "its size; ask a native-plant nursery."
        )
    reasons = joined([f"{reason} ({count})" for reason, count in sorted(left_out.items())])
    return f"Plants like {name} were looked at and none passes: {reasons}."
