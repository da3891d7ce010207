"""Which missing fact would decide the answer: read off the samples, never guessed.

Every fact that nobody has given has a value in each draw. The draws that share an answer tell what
knowing it would do: how much narrower the chance, and whether the class hangs on it. A fact that
hardly narrows it and changes no class is not asked.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from service.escape.classes import class_of
from service.escape.climate import COLDEST_C, WARMEST_C, unknown_zone
from service.escape.draws import Array
from service.escape.interval import Interval
from service.escape.model import Outcome
from service.escape.origin import native_to
from service.escape.setting import Setting
from service.escape.values import Estimate, Unknown
from service.values.plants import Plant
from service.values.site import Place

LEAST_WORTH_ASKING = 0.02
"""Fall in the width, in shares of one, from which a fact is asked although no class hangs on it."""
_FEWEST = 20
"""Draws of an answer from which percentiles are read."""


@dataclass(frozen=True, slots=True)
class Question:
    """A missing fact, its answers, and which of them each draw has."""

    fact: str
    text: str
    answers: tuple[str, ...]
    picked: NDArray[np.intp]


def deciding_facts(outcome: Outcome, overall: Array) -> tuple[Unknown, ...]:
    """Facts that would decide or narrow the chance, the one that narrows most first."""
    setting = outcome.setting
    if not setting.draws.full:
        return ()
    order = np.argsort(overall[: setting.draws.count])
    ordered = overall[order]
    whole = _estimate(ordered)
    found = []
    for question in questions(outcome.plant, setting):
        picked = question.picked[order]
        parts = [(text, ordered[picked == n]) for n, text in enumerate(question.answers)]
        answers = [(text, _estimate(part)) for text, part in parts if len(part) >= _FEWEST]
        if len(answers) < 2:
            continue
        width = sum(one.interval.width for _, one in answers) / len(answers)
        classes = {class_of(one.likely, setting.parameters) for _, one in answers}
        narrows_by = whole.interval.width - width
        if narrows_by >= LEAST_WORTH_ASKING or len(classes) > 1:
            found.append(
                Unknown(question.fact, question.text, narrows_by, len(classes) > 1, tuple(answers))
            )
    return tuple(
        sorted(found, key=lambda one: (not one.settles, -round(one.narrows_by, 9), one.fact))
    )


def _estimate(ordered: Array) -> Estimate:
    low, likely, high = (_quantile(ordered, share) for share in (0.05, 0.5, 0.95))
    return Estimate(likely, low, high, Interval(float(ordered[0]), float(ordered[-1])))


def _quantile(ordered: Array, share: float) -> float:
    """Of values in order, linear between two of them as in ``numpy.quantile``."""
    position = (len(ordered) - 1) * share
    before = int(position)
    low, high = ordered[before : before + 2].tolist()
    part = position - before
    found: float = high - (high - low) * (1.0 - part) if part >= 0.5 else low + (high - low) * part
    return found


def questions(plant: Plant, setting: Setting) -> Iterator[Question]:
    """Every fact that the draws sample for want of an answer."""
    if setting not in _OF_SETTINGS:
        _OF_SETTINGS[setting] = tuple(_setting_questions(setting))
    yield from _OF_SETTINGS[setting]
    yield from _plant_questions(plant, setting)


_OF_SETTINGS: WeakKeyDictionary[Setting, tuple[Question, ...]] = WeakKeyDictionary()
"""Questions that all plants of a setting share."""


def _setting_questions(setting: Setting) -> Iterator[Question]:
    yield from _place_questions(setting)
    yield from _climate_questions(setting)
    if setting.waters and setting.ways.open_questions:
        yield _words(
            setting,
            "waters.network",
            "Does water run from the place to any of the waters near it?",
            ("no", "yes"),
        )


def _words(setting: Setting, fact: str, text: str, answers: tuple[str, ...]) -> Question:
    return Question(fact, text, answers, setting.draws.picks(fact, len(answers)))


def _yes_no(setting: Setting, fact: str, text: str) -> Question:
    return _words(setting, f"place.{fact}", text, ("no", "yes"))


def _measured(setting: Setting, fact: str, text: str, values: Array, unit: str) -> Question:
    """A quantity, its range in three parts that as many draws have each."""
    sampled = values[: setting.draws.count]
    cuts = np.quantile(sampled, (1 / 3, 2 / 3))
    picked = np.searchsorted(cuts, sampled)
    middles = [float(np.median(sampled[picked == number])) for number in range(3)]
    answers = tuple(f"about {value:.2g} {unit}".rstrip() for value in middles)
    return Question(fact, text, answers, picked)


def _place_questions(setting: Setting) -> Iterator[Question]:
    place, draws = setting.place, setting.draws
    if place.kind != "stream":
        yield from _ground_questions(setting, place)
    if place.overflow is None:
        yield _yes_no(setting, "overflow", "Can a storm send water over the rim?")
    if place.flood_prone is None:
        yield _yes_no(setting, "flood_prone", "Can high water of a stream or lake reach it?")
    if place.visited is None:
        yield _yes_no(setting, "visited", "Do water birds, livestock, anglers or boats come to it?")
    if place.surplus is None:
        text = "Are thinnings and spare plants given away, or may they be tipped out?"
        yield _yes_no(setting, "surplus", text)
    if place.area_m2 is None:
        low, high = draws.parameters.span("open.area_unknown.ordinary")
        area = draws.ranged("place.area_m2", low, high, logarithmic=True)
        yield _measured(setting, "place.area_m2", "How large is the water or bed?", area, "m2")


def _ground_questions(setting: Setting, place: Place) -> Iterator[Question]:
    draws = setting.draws
    if place.outlet is None and place.outlet_flow_l_s is None:
        text = "Does water leave by a pipe, channel or spillway in ordinary weather?"
        yield _yes_no(setting, "outlet", text)
    if place.outlet is not False and place.outlet_flow_l_s is None:
        low, high = draws.parameters.span("open.flow_unknown.ordinary")
        flow = draws.ranged("place.outlet_flow_l_s", low, high, logarithmic=True)
        text = "How much water runs through the outlet?"
        yield _measured(setting, "place.outlet_flow_l_s", text, flow, "L/s")
    if place.bank_contact is None:
        text = "Does soil join the planting to the ground outside?"
        yield _yes_no(setting, "bank_contact", text)
    if place.lined is None and place.bank_contact is not False:
        text = "Does a liner or tank wall close it off from the ground?"
        yield _words(setting, "place.lined", text, ("yes", "no"))


def _climate_questions(setting: Setting) -> Iterator[Question]:
    climate, draws = setting.climate, setting.draws
    if climate.extreme_minimum_c is None and climate.hardiness_zone is None:
        site = draws.ranged("climate.hardiness_zone", COLDEST_C, WARMEST_C)
        text = "Which hardiness zone is the site in?"
        yield _measured(setting, "climate.hardiness_zone", text, site, "C in a mean winter")
    if climate.first_frost is None:
        days = draws.ranged("climate.first_frost", *draws.parameters.span("season.unknown.days"))
        text = "When does the first autumn frost come in a mean year?"
        yield _measured(setting, "climate.first_frost", text, days, "frost-free days")


def _plant_questions(plant: Plant, setting: Setting) -> Iterator[Question]:
    traits, name, draws = plant.traits, plant.accepted_name, setting.draws
    if traits.zone_min is None:
        zone = unknown_zone(traits, draws)
        yield _measured(
            setting, "plant.zone_min", f"How cold a zone does {name} live in?", zone, "(zone)"
        )
    if traits.frost_kill in (None, "unknown"):
        text = f"Does frost kill {name} whole, its top only, or not at all?"
        yield _words(setting, "plant.frost_kill", text, ("whole", "its top only", "not at all"))
    foreign = traits.native_north_america == "no"
    if setting.state is not None and not foreign and native_to(plant, setting.state) is None:
        text = f"Is {name} native to the state?"
        yield _words(setting, "plant.native_here", text, ("yes", "no"))
