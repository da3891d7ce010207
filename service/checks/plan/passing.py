"""Which plantings stand on the shopping list, and what that says."""

from collections.abc import Iterable, Sequence

from service.checks.plan.values import (
    HeldBack,
    PlanFinding,
    PlantingAnswer,
    ShoppingLine,
    ShoppingList,
)
from service.escape import Assessment, EscapeClass
from service.regulation.finding import Finding
from service.values.plants import Plant
from service.values.vocabulary import JURISDICTION_NAMES, Outcome

PASSES_MEANS = (
    "A plant stands on this list when all of this holds: its name is confirmed; for the acts asked, no entry was found in the lists held "
    "of the state and of each state answered beside it, or only entries for other acts; no state that its water reaches is found to bar "
    "or limit its release, or its chance of escape is low; the way from the state it is brought from meets no entry that bears on it; it "
    "fits the position, if need be with the change named; its chance of escape is low or moderate by the upper end, or it is native to "
    "the region. The list does not say that the plant may be bought, kept or planted: lists may be held in part, local rules are not "
    "looked at, and what to confirm with whom stands beside."
)

_QUIET: frozenset[Outcome] = frozenset({"no-entry-found", "listed-other-acts"})
_OF_WATER: frozenset[Outcome] = frozenset({"prohibited", "permit-required", "conditional"})


def reasons_held_back(answer: PlantingAnswer, region: str | None) -> tuple[str, ...]:
    """Every reason why the planting is not on the list, the law's first."""
    return tuple(dict.fromkeys((*_law(answer), *_name(answer), *_site(answer, region))))


def native_to(plants: Sequence[Plant], region: str | None) -> bool:
    """Whether every plant that is meant is native to the region."""
    return (
        bool(plants)
        and region is not None
        and all(
            plant.traits.native_north_america in ("yes", "part")
            and region in plant.traits.native_regions
            for plant in plants
        )
    )


def shopping_list(plantings: Sequence[PlantingAnswer], region: str | None) -> ShoppingList:
    """What passes and what does not, in the order of the document."""
    return ShoppingList(
        passes_means=PASSES_MEANS,
        lines=tuple(
            ShoppingLine(
                each.number,
                each.name,
                each.label,
                each.count,
                each.place,
                tuple(_conditions(each, region)),
            )
            for each in plantings
            if each.passes
        ),
        held_back=tuple(
            HeldBack(each.number, each.name, each.held_back)
            for each in plantings
            if not each.passes
        ),
    )


def bears(each: PlanFinding, escape: Assessment | None) -> bool:
    """Whether a finding keeps the plant off the list: silence does not; of a water's state, what
    counts there.
    """
    if each.role == "water":
        return release_counts(each.finding, escape.escape_class if escape else None)
    return each.finding.outcome not in _QUIET


def release_counts(finding: Finding, escape: EscapeClass | None) -> bool:
    """Whether the release law of a state that the water reaches counts: where it bars or limits
    release and the escape is not low.
    """
    return finding.outcome in _OF_WATER and escape != "low"


def _law(answer: PlantingAnswer) -> Iterable[str]:
    if answer.outcome is None:
        yield "The state is not known, so no law was looked up."
    for each in answer.findings:
        if bears(each, answer.escape):
            finding = each.finding
            mark = "" if finding.verified else ", unverified"
            yield f"{JURISDICTION_NAMES[finding.jurisdiction]}, {finding.act}: {finding.outcome}{mark}."
    if answer.lane is not None and answer.lane.lane.outcome not in _QUIET:
        lane = answer.lane.lane
        mark = "" if lane.verified else ", unverified"
        yield f"Brought from {JURISDICTION_NAMES[lane.origin]}: {lane.outcome}{mark}."


def _name(answer: PlantingAnswer) -> Iterable[str]:
    if not answer.resolution.confirmed:
        yield answer.resolution.to_confirm or "The name is not confirmed."


def _site(answer: PlantingAnswer, region: str | None) -> Iterable[str]:
    if not answer.plants:
        return
    if answer.escape is None:
        yield "Fit and escape are not worked out: its place is not known."
        return
    fit = answer.worst_fit
    if fit is not None and fit.verdict == "does-not-fit":
        yield fit.summary
    if native_to(answer.plants, region):
        return
    escape = answer.escape
    if escape.escape_class == "high":
        yield f"Its chance of escape is high by the upper end ({escape.interval.low:.0%} to {escape.interval.high:.0%} in ten years)."
    containment = answer.worst_containment
    if (
        containment is not None
        and containment.verdict == "nothing-holds"
        and escape.escape_class != "low"
    ):
        yield "Nothing that is designed here holds it in its place."


def _conditions(answer: PlantingAnswer, region: str | None) -> Iterable[str]:
    """What the passing rests on."""
    partly = [each.finding for each in answer.findings if each.finding.coverage != "complete"]
    if partly:
        names = ", ".join(dict.fromkeys(JURISDICTION_NAMES[each.jurisdiction] for each in partly))
        yield f"Lists of {names} are held in part or not at all: confirm before buying."
    if not answer.verified:
        yield "The law behind it was not read in the text in full: unverified."
    fit = answer.worst_fit
    if fit is not None and fit.verdict in ("fits-with-change", "unknown"):
        yield fit.summary
    containment = answer.worst_containment
    if containment is not None and containment.verdict == "nothing-holds":
        yield "No measure here holds it in its place; it may spread."
    elif containment is not None and containment.verdict in ("partly-held", "each-way-met"):
        kept = ", ".join(measure.title.lower() for measure in containment.measures)
        yield f"Build and keep up: {kept}." + (
            " Some ways out stay open." if containment.unheld else ""
        )
    if answer.escape is not None and answer.escape.escape_class != "low":
        native = (
            " It is native to the region, not to every place in it."
            if native_to(answer.plants, region)
            else ""
        )
        interval = answer.escape.interval
        yield f"Chance of escape {answer.escape.escape_class}: {interval.low:.0%} to {interval.high:.0%} in ten years.{native}"
