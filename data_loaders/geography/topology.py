"""Polygons out of a TopoJSON topology: arcs shared by neighbours, coordinates as running sums of
integer steps.
"""

from collections.abc import Collection
from typing import NotRequired, TypedDict, cast

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from service.values.vocabulary import CountyFips


class Transform(TypedDict):
    scale: list[float]
    translate: list[float]


class CountyShape(TypedDict):
    type: str
    id: str
    arcs: NotRequired[list[list[list[int]]]]
    properties: dict[str, str]


class CountyCollection(TypedDict):
    type: str
    geometries: list[CountyShape]


class Topology(TypedDict):
    """A quantised topology with one object, ``counties``.

    ``arcs`` of a Polygon are one level flatter than typed.
    """

    type: str
    transform: Transform
    arcs: list[list[list[int]]]
    objects: dict[str, CountyCollection]


def polygons(
    topology: Topology, *, only: Collection[str] | None = None
) -> dict[CountyFips, MultiPolygon]:
    """The polygon of each county; ``only`` these codes when given. Neighbours share every vertex
    of their border.
    """
    scale, shift = (
        np.asarray(topology["transform"]["scale"]),
        np.asarray(topology["transform"]["translate"]),
    )

    def ring(numbers: list[int]) -> NDArray[np.float64]:
        pieces = [arcs[number] if number >= 0 else arcs[~number][::-1] for number in numbers]
        return np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])

    def shape(county: CountyShape) -> MultiPolygon:
        nested = county.get("arcs", [])
        parts = (
            nested if county["type"] == "MultiPolygon" else cast("list[list[list[int]]]", [nested])
        )
        drawn = [[ring(numbers) for numbers in rings] for rings in parts]
        # Quantisation folds an islet now and then to a point or a line: the smallest ring has four
        # positions.
        return MultiPolygon(
            [
                Polygon(shell, [hole for hole in holes if len(hole) >= 4])
                for shell, *holes in drawn
                if len(shell) >= 4
            ]
        )

    arcs = [
        np.cumsum(np.asarray(arc, dtype=np.int64), axis=0) * scale + shift
        for arc in topology["arcs"]
    ]
    return {
        CountyFips(county["id"]): shape(county)
        for county in next(iter(topology["objects"].values()))["geometries"]
        if only is None or county["id"] in only
    }
