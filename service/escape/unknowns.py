"""Which missing fact would narrow the interval most: computed by answering each, never guessed.

Every fact that is missing is given each of a few plausible answers in turn and the whole chain is
run again; the fact is ranked by the mean fall in the width of the result over its answers, all
counted alike. Where so much is missing that no single answer moves the result, the stages still
tell the facts apart: what comes to the waters, and what establishes in them.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from service.escape.model import Case, Outcome
from service.escape.posterior import NO_LOOKS, Looks
from service.escape.setting import Setting, setting, to_interval
from service.escape.values import Unknown
from service.values.plants import Range, Traits
from service.values.site import Climate, Place

_LEAST_WORTH_NAMING = 0.0005


RunAll = Callable[[Sequence[Case]], Sequence[Outcome]]


@dataclass(frozen=True, slots=True)
class Question:
    """A missing fact and the cases that answer it."""

    fact: str
    text: str
    answers: Sequence[tuple[str, Case]]


def ranked(base: Outcome, questions: Sequence[Question], run_all: RunAll) -> tuple[Unknown, ...]:
    """Questions that would narrow the result or its stages, most first."""
    width, stages = _width(base), _stage_width(base)
    every = iter(run_all([case for question in questions for _, case in question.answers]))
    found = []
    for question in questions:
        outcomes = [next(every) for _ in question.answers]
        narrows_by = width - sum(map(_width, outcomes)) / len(outcomes)
        narrows_stages_by = stages - sum(map(_stage_width, outcomes)) / len(outcomes)
        if max(narrows_by, narrows_stages_by) > _LEAST_WORTH_NAMING:
            answers = tuple(
                (answer, to_interval(outcome.overall))
                for (answer, _), outcome in zip(question.answers, outcomes, strict=True)
            )
            found.append(
                Unknown(question.fact, question.text, narrows_by, narrows_stages_by, answers)
            )
    return tuple(sorted(found, key=_rank))


def _rank(unknown: Unknown) -> tuple[float, float, str]:
    narrows_by = unknown.narrows_by if unknown.narrows_by > _LEAST_WORTH_NAMING else 0.0
    return -round(narrows_by, 9), -round(unknown.narrows_stages_by, 9), unknown.fact


def _width(outcome: Outcome) -> float:
    return float(outcome.overall[1] - outcome.overall[0])


def _stage_width(outcome: Outcome) -> float:
    """Mean over the waters of the widths of arriving and of establishing."""
    widths = (outcome.arrives[1] - outcome.arrives[0]) + (
        outcome.established[1] - outcome.established[0]
    )
    return float(widths.mean()) / 2


def place_settings(base: Setting) -> list[tuple[str, str, list[tuple[str, Setting]]]]:
    """Questions about the place, the climate and the network, with the setting that each answer
    gives.

    The same for every plant of a place, so worked out once.
    """
    found: list[tuple[str, str, list[tuple[str, Setting]]]] = []
    for fact, text, places in _place_questions(base.place):
        found.append(
            (f"place.{fact}", text, [(answer, base.elsewhere(place)) for answer, place in places])
        )
    for fact, text, climates in _climate_questions(base.climate):
        found.append(
            (
                f"climate.{fact}",
                text,
                [(answer, base.in_climate(climate)) for answer, climate in climates],
            )
        )
    if (
        base.waters
        and not base.network
        and any(reached.relation == "near" for reached in base.waters)
    ):
        found.append(
            (
                "waters.network",
                "Does water run from the place to any of the waters near it?",
                _network(base),
            )
        )
    return found


def _place_questions(place: Place) -> Iterator[tuple[str, str, list[tuple[str, Place]]]]:
    def yes_no(yes: Place, no: Place) -> list[tuple[str, Place]]:
        return [("yes", yes), ("no", no)]

    if place.kind != "stream":
        if place.outlet is None and not place.outlet_flow_l_s:
            yield (
                "outlet",
                "Does water leave by a pipe, channel or spillway in ordinary weather?",
                yes_no(replace(place, outlet=True), replace(place, outlet=False)),
            )
        elif place.outlet_flow_l_s is None and place.outlet:
            flows = [
                (f"{flow:g} L/s", replace(place, outlet_flow_l_s=flow)) for flow in (0.1, 1.0, 10.0)
            ]
            yield "outlet_flow_l_s", "How much water runs through the outlet?", flows
        if place.bank_contact is None:
            yield (
                "bank_contact",
                "Does soil join the planting to the ground outside?",
                yes_no(replace(place, bank_contact=True), replace(place, bank_contact=False)),
            )
        if place.lined is None and place.bank_contact is not False:
            yield (
                "lined",
                "Does a liner or tank wall close it off from the ground?",
                yes_no(replace(place, lined=True), replace(place, lined=False)),
            )
    if place.overflow is None:
        yield (
            "overflow",
            "Can a storm send water over the rim?",
            yes_no(replace(place, overflow=True), replace(place, overflow=False)),
        )
    if place.flood_prone is None:
        yield (
            "flood_prone",
            "Can high water of a stream or lake reach it?",
            yes_no(replace(place, flood_prone=True), replace(place, flood_prone=False)),
        )
    if place.visited is None:
        yield (
            "visited",
            "Do water birds, livestock, anglers or boats come to it?",
            yes_no(replace(place, visited=True), replace(place, visited=False)),
        )
    if place.area_m2 is None:
        areas = [(f"{area:g} m2", replace(place, area_m2=area)) for area in (2.0, 20.0, 1000.0)]
        yield "area_m2", "How large is the water or bed?", areas


def _climate_questions(climate: Climate) -> Iterator[tuple[str, str, list[tuple[str, Climate]]]]:
    if climate.extreme_minimum_c is None and climate.hardiness_zone is None:
        zones = [
            (f"zone {zone}", replace(climate, hardiness_zone=zone))
            for zone in ("4a", "6a", "8a", "10a")
        ]
        yield "hardiness_zone", "Which hardiness zone is the site in?", zones
    if climate.first_frost is None:
        frosts = [
            (frost, replace(climate, first_frost=frost)) for frost in ("09-15", "10-20", "11-30")
        ]
        yield "first_frost", "When does the first autumn frost come in a mean year?", frosts


def _network(base: Setting) -> list[tuple[str, Setting]]:
    """To each near water it runs straight, or it does not run there at all."""
    waters = [
        replace(reached, relation="downstream", along_m=reached.overland_m)
        if reached.relation == "near"
        else reached
        for reached in base.waters
    ]
    answers = ((waters, "yes, by the shortest way"), (list(base.waters), "no"))
    return [
        (answer, setting(base.place, base.climate, there, base.parameters, network=True))
        for there, answer in answers
    ]


def plant_questions(case: Case) -> Iterator[Question]:
    """Questions about the plant."""

    def answered(**changes: Traits) -> list[tuple[str, Case]]:
        return [
            (answer, replace(case, plant=replace(case.plant, traits=traits)))
            for answer, traits in changes.items()
        ]

    traits = case.plant.traits
    name = case.plant.accepted_name
    if traits.zone_min is None:
        yield Question(
            "plant.zone_min",
            f"How cold a zone does {name} live in?",
            answered(**{f"zone {zone}": replace(traits, zone_min=zone) for zone in (4, 6, 8, 10)}),
        )
    if traits.frost_kill in (None, "unknown"):
        yield Question(
            "plant.frost_kill",
            f"Does frost kill {name} whole, or its top only?",
            answered(
                yes=replace(traits, frost_kill="yes"), top=replace(traits, frost_kill="top-only")
            ),
        )
    if not traits.spread_modes:
        yield Question(
            "plant.spread_modes",
            f"How does {name} spread: seed, pieces, runners, rhizomes?",
            answered(
                seed=replace(traits, spread_modes=("seed",)),
                rhizome=replace(traits, spread_modes=("rhizome",)),
                fragment=replace(traits, spread_modes=("fragment",)),
            ),
        )
    if traits.spread_rate is None and traits.doubling_days is None:
        yield Question(
            "plant.doubling_days",
            f"How long does {name} take to double its cover?",
            answered(
                **{
                    f"{days:g} days": replace(traits, doubling_days=Range(days, days))
                    for days in (7.0, 60.0, 365.0)
                }
            ),
        )
    if traits.growth_form is None:
        yield Question(
            "plant.growth_form",
            f"How does {name} grow: under water, floating, standing out of it?",
            answered(
                submerged=replace(traits, growth_form="submerged"),
                floating=replace(traits, growth_form="free-floating"),
                emergent=replace(traits, growth_form="emergent"),
            ),
        )
    if traits.native_north_america is None:
        yield Question(
            "plant.native_north_america",
            f"Is {name} native to North America?",
            answered(
                yes=replace(traits, native_north_america="yes"),
                no=replace(traits, native_north_america="no"),
            ),
        )


def record_question(case: Case, full_look: float) -> Iterator[Question]:
    """Would a survey of the waters narrow it: one full look at each, with or without the plant."""
    if all(looks == NO_LOOKS for looks in case.looks):
        number = len(case.looks)
        yield Question(
            "evidence",
            "Has anyone recorded the plant in these waters, or looked and not found it?",
            [
                ("found", replace(case, looks=(Looks(full_look, full_look),) * number)),
                ("looked for, not found", replace(case, looks=(Looks(full_look, 0.0),) * number)),
            ],
        )
