"""Facts of a plan that contradict each other: a crown below the bed, a position far outside the
site, more plants than the place has room for.

A fact that cannot be right is set aside with a problem that points at it, and its planting is
answered without it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from shapely.geometry.base import BaseGeometry

from service.checks.plan.request import Plan, PlannedPlace, Planting
from service.checks.plan.values import Ground, Problem
from service.fit import room_m2
from service.geography.geodesy import nearest_between
from service.values.plants import Plant, Range
from service.values.quantities import Quantity

OUTSIDE_M = 500.0
"""A position this far from its site or place cannot be meant: common practice, no source."""
_SLACK_CM = 1.0
MANY, SPARSE_SHARE, SHALLOW_CM = 50, 0.15, 60
"""Plants from which a planting is meant to cover its place, and the share of it below which they do
not; a pond up to so deep can be planted all over: common practice, no source.
"""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A fact that is set aside."""

    problem: Problem
    of: Literal["planting", "place"]
    number: int
    """Of the planting, or the place from 0."""
    fact: Literal["crown_depth_cm", "shape", "outlet_at", "overflow_at"]


def doubtful(plan: Plan) -> Iterator[Doubt]:
    """Every fact of a plan that another one shows to be wrong."""
    yield from _outside(plan)
    places = {place.place.name: place.place for place in plan.places}
    for planting in plan.plantings:
        crown, place = planting.position.crown_depth_cm, places.get(planting.place or "")
        if crown is None or place is None or place.depth_cm is None:
            continue
        if crown > place.depth_cm + _SLACK_CM:
            deep, bed = (
                Quantity.exact(crown, "cm").text(),
                Quantity.exact(place.depth_cm, "cm").text(),
            )
            detail = (
                f"A crown {deep} deep lies below the bed of {place.name}, which is {bed} deep; "
                "the planting is answered without its depth."
            )
            step = "Give the water over the crown, no more than the depth of the place."
            problem = Problem(planting.at("crown_depth_cm"), detail, step)
            yield Doubt(problem, "planting", planting.number, "crown_depth_cm")


def mended(plan: Plan, doubts: list[Doubt]) -> Plan:
    """The plan without the facts that are in doubt."""
    if not doubts:
        return plan
    crowns = {doubt.number for doubt in doubts if doubt.fact == "crown_depth_cm"}
    planting_shapes = {d.number for d in doubts if (d.of, d.fact) == ("planting", "shape")}
    of_places: dict[int, dict[str, None]] = {}
    for doubt in doubts:
        if doubt.of == "place":
            of_places.setdefault(doubt.number, {})[doubt.fact] = None

    def without(planting: Planting) -> Planting:
        position = planting.position
        if planting.number in crowns:
            position = replace(position, crown_depth_cm=None)
        shape = None if planting.number in planting_shapes else planting.shape
        return replace(planting, position=position, shape=shape)

    return replace(
        plan,
        plantings=tuple(without(planting) for planting in plan.plantings),
        places=tuple(
            replace(place, **of_places.get(index, {}))  # type: ignore[arg-type]
            for index, place in enumerate(plan.places)
        ),
    )


def spacing_grounds(
    plan: Plan, plants: Mapping[int, Sequence[Plant]]
) -> Mapping[int, tuple[Ground, ...]]:
    """By planting, where the plants of a place need more room at the closest spacing of practice
    than it has, or are so many that it is to be covered and so few that it is not.

    Args:
        plants: by planting, what its label may mean.
    """
    found: dict[int, tuple[Ground, ...]] = {}
    for place in plan.places:
        area_m2 = place.place.area_m2
        room = {
            planting.number: _room_m2(planting.count or 0, plants[planting.number])
            for planting in plan.plantings
            if planting.place == place.place.name and planting.position.holding != "no-drain-tub"
        }
        if not area_m2 or not room:
            continue
        has = Quantity.exact(area_m2, "m2").text()
        least = sum(taken.low for taken in room.values())
        if least > area_m2:
            text = (
                f"Plant fewer in {place.place.name}: what is planned needs "
                f"{Quantity.exact(least, 'm2').text()} at the closest spacing of practice, and it "
                f"has {has}."
            )
            part = area_m2 / (2 * len(room))
            crowded = {number for number, taken in room.items() if taken.low > part}
            found |= dict.fromkeys(crowded, (Ground("spacing", False, text),))
        widest = sum(taken.high for taken in room.values())
        # Of a deep pond the edge alone is planted.
        deep = place.place.kind == "pond" and (place.place.depth_cm or 0) > SHALLOW_CM
        if widest < SPARSE_SHARE * area_m2 and not deep:
            many = {
                planting.number
                for planting in plan.plantings
                if planting.number in room and (planting.count or 0) >= MANY
            }
            text = (
                f"Plant more in {place.place.name}, or say which part of it: what is planned "
                f"covers {Quantity.exact(widest, 'm2').text()} at the widest spacing of practice, "
                f"of {has}."
            )
            found |= dict.fromkeys(many, (Ground("spacing", False, text),))
    return found


def _room_m2(count: int, plants: Sequence[Plant]) -> Range:
    """Room of so many plants, from the least of those that are meant to the most."""
    ranges = [room for plant in plants if (room := room_m2(plant)) is not None]
    if not ranges:
        return Range(0.0, 0.0)
    least, most = min(room.low for room in ranges), max(room.high for room in ranges)
    return Range(count * least, count * most)


def _outside(plan: Plan) -> Iterator[Doubt]:
    site = plan.site.shape
    places = {place.place.name: place for place in plan.places}
    for index, place in enumerate(plan.places):
        if site is not None and place.shape is not None:
            far_m = nearest_between(site, place.shape)[1].distance_m
            if far_m > OUTSIDE_M:
                at = f"{place.pointer}/geometry"
                problem = _far(at, place.place.name, far_m, "the site")
                yield Doubt(problem, "place", index, "shape")
        yield from _ways_out_outside(site, place, index)
    for planting in plan.plantings:
        if planting.shape is None:
            continue
        own = places.get(planting.place or "")
        reference = own.shape if own is not None and own.shape is not None else site
        if reference is None:
            continue
        far_m = nearest_between(reference, planting.shape)[1].distance_m
        if far_m > OUTSIDE_M:
            where = own.place.name if own is not None and reference is own.shape else "the site"
            problem = _far(planting.at("geometry"), planting.label, far_m, where)
            yield Doubt(problem, "planting", planting.number, "shape")


def _ways_out_outside(
    site: BaseGeometry | None, place: PlannedPlace, index: int
) -> Iterator[Doubt]:
    reference = place.shape if place.shape is not None else site
    marks: tuple[tuple[Literal["outlet_at", "overflow_at"], BaseGeometry | None], ...] = (
        ("outlet_at", place.outlet_at),
        ("overflow_at", place.overflow_at),
    )
    for fact, mark in marks:
        if mark is None or reference is None:
            continue
        far_m = nearest_between(reference, mark)[1].distance_m
        if far_m > OUTSIDE_M:
            what = f"the {fact.removesuffix('_at')} of {place.place.name}"
            where = place.place.name if place.shape is not None else "the site"
            yield Doubt(_far(f"{place.pointer}/{fact}", what, far_m, where), "place", index, fact)


def _far(pointer: str, what: str, far_m: float, where: str) -> Problem:
    far = f"{far_m / 1000:.3g} km ({far_m / 1609.344:.2g} mi)"
    return Problem(
        pointer,
        f"The position of {what} lies {far} from {where} and was not used.",
        "Check longitude and latitude; longitude comes first.",
    )
