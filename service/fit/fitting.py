"""A planting against all needs of its plant."""

from service.fit import aspects
from service.fit.values import DECIDING, VERDICTS, Aspect, Fit, Verdict
from service.fit.winter import winter_fit
from service.values.plants import Plant
from service.values.site import Climate, Place, Position
from service.values.workings import Missing

_SUMMARY: dict[Verdict, str] = {
    "fits": "{name} meets every need looked at here.",
    "fits-with-change": "{name} fits with a change: {detail}",
    "does-not-fit": "{name} does not fit here: {detail}",
    "unknown": "Whether {name} fits cannot be said yet; look up {detail}.",
}


def fit(plant: Plant, place: Place, position: Position, climate: Climate) -> Fit:
    """Depth, flow, light, winter, surface, soil and grazing, each with what to change or look up.

    Raises:
        BadRequest: a hardiness zone that is not on the map, or a first frost that is not a
            month and day.
    """
    crown_cm = aspects.crown_depth_cm(place, position)
    winter = winter_fit(plant, place, position, climate, crown_cm)
    findings = [
        look(plant, place, position) for look in (aspects.depth, aspects.flow, aspects.light)
    ]
    findings.append((winter.aspect, winter.missing))
    findings += [
        look(plant, place, position) for look in (aspects.surface, aspects.soil, aspects.grazing)
    ]
    found = tuple(aspect for aspect, _ in findings)
    missing = _once([fact for _, facts in findings for fact in facts])
    open_facts = _once(
        [fact for aspect, facts in findings if aspect.name in DECIDING for fact in facts]
    )
    deciding = tuple(aspect for aspect in found if aspect.name in DECIDING)
    verdict = min((aspect.verdict for aspect in deciding), key=VERDICTS.index)
    return Fit(
        plant_id=plant.plant_id,
        verdict=verdict,
        summary=_SUMMARY[verdict].format(
            name=plant.accepted_name, detail=_detail(verdict, deciding, open_facts)
        ),
        aspects=found,
        winter=winter.winter,
        autumn=winter.autumn,
        missing=missing,
    )


def read_by_fit(place: Place) -> Place:
    """The place with only what a fit hangs on, so that fits of like places need no second look."""
    return Place(
        "",
        place.kind,
        depth_cm=place.depth_cm,
        flow=place.flow,
        light=place.light,
        grazing_fish=place.grazing_fish,
        freezing_depth_cm=place.freezing_depth_cm,
    )


def _detail(verdict: Verdict, deciding: tuple[Aspect, ...], open_facts: tuple[Missing, ...]) -> str:
    if verdict == "unknown":
        return "; ".join(missing.fact for missing in open_facts)
    at_issue = [aspect for aspect in deciding if aspect.verdict == verdict]
    if verdict == "fits-with-change":
        return " ".join(aspect.change.text for aspect in at_issue if aspect.change)
    return " ".join(aspect.found for aspect in at_issue)


def _once(facts: list[Missing]) -> tuple[Missing, ...]:
    by_field: dict[str, Missing] = {}
    for fact in facts:
        by_field.setdefault(fact.field, fact)
    return tuple(by_field.values())
