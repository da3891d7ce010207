"""Facts that nobody has given, gathered over the whole plan, those that would narrow it most
first.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from service.checks.plan.request import PLACE_DESIGN
from service.checks.plan.values import PlantingAnswer, SiteAnswer, Unsettled
from service.values.plants import Plant
from service.values.workings import Missing

_OF_SITE = ("climate.", "waters.")
_LOOK_UP = {
    "climate.hardiness_zone": "the USDA Plant Hardiness Zone Map, by ZIP code",
    "climate.first_frost": "state climatologist or extension table",
    "waters.network": "the National Hydrography Dataset, or a walk along the drain",
}


@dataclass
class _Gathered:
    fact: str
    of: str
    question: str
    look_up: str
    why: dict[str, None] = field(default_factory=dict)
    plantings: dict[int, None] = field(default_factory=dict)
    narrows_by: float = 0.0


def open_facts(site: SiteAnswer, plantings: Sequence[PlantingAnswer]) -> tuple[Unsettled, ...]:
    """Facts of the site first, then by how much each would narrow the chance of escape over all
    plantings, then by how many wait for it.
    """
    gathered: dict[tuple[str, str], _Gathered] = {}
    for planting in plantings:
        for fact in _of_planting(planting):
            joined = gathered.setdefault((fact.fact, fact.of), fact)
            joined.look_up = joined.look_up or fact.look_up
            joined.why |= fact.why
            joined.plantings |= fact.plantings
            joined.narrows_by += fact.narrows_by if joined is not fact else 0.0
    ordered = sorted(
        gathered.values(),
        key=lambda fact: (-round(fact.narrows_by, 6), -len(fact.plantings), fact.fact, fact.of),
    )
    everyone = tuple(planting.number for planting in plantings)
    known = {fact.fact for fact in ordered}
    of_site = [
        Unsettled(f"site.{fact.key}", "the site", fact.title, fact.would_narrow, "", everyone)
        for fact in site.facts
        if fact.would_narrow and not (fact.key == "zone" and "climate.hardiness_zone" in known)
    ]
    found = [
        Unsettled(
            fact.fact,
            fact.of,
            fact.question,
            "; ".join(fact.why),
            fact.look_up,
            tuple(fact.plantings),
        )
        for fact in ordered
    ]
    return (*of_site, *found)


def _of_planting(planting: PlantingAnswer) -> Iterable[_Gathered]:
    number = {planting.number: None}
    for unknown in planting.escape.deciding_unknowns if planting.escape is not None else ():
        # Facts of a plant wait until the label is known to mean it.
        if unknown.fact.startswith("plant.") and not planting.resolution.confirmed:
            continue
        of = _subject(unknown.fact, planting, planting.name)
        look_up = _LOOK_UP.get(unknown.fact, "")
        why = {"the chance of escape": None}
        yield _Gathered(
            unknown.fact,
            of,
            unknown.question,
            look_up,
            why,
            dict(number),
            max(0.0, unknown.narrows_by),
        )
    for plant, missing in _missing(planting):
        of = _subject(missing.field, planting, plant.accepted_name)
        yield _Gathered(
            missing.field,
            of,
            missing.fact,
            missing.look_up,
            {missing.needed_for: None},
            dict(number),
        )


def _missing(planting: PlantingAnswer) -> Iterable[tuple[Plant, Missing]]:
    for plant, fit in zip(planting.plants, planting.fits, strict=False):
        yield from ((plant, missing) for missing in fit.missing)
    for plant, plan in zip(planting.plants, planting.containment, strict=False):
        yield from ((plant, missing) for missing in plan.missing)


def _subject(fact: str, planting: PlantingAnswer, plant: str) -> str:
    """Whose fact it is: the site's, the place's, the plant's, or the planting's own."""
    if fact.startswith(_OF_SITE):
        return "the site"
    if fact.startswith("place."):
        return planting.place
    if fact.startswith("plant.") or fact == "doubling_days":
        return plant
    of_place = fact.removeprefix("request.") in PLACE_DESIGN
    return planting.place if of_place else f"planting {planting.number}, {planting.label}"
