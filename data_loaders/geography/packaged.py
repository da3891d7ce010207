"""The county boundaries that come with the package: the table alone, or with the geometry."""

import csv
import gzip
import io
import json
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from data_loaders.build import bytes_sha256
from service.geography.counties import COUNTY_KINDS, County, CountyKind, CountyTable
from service.vocabulary import CountyFips, Jurisdiction

_FOLDER = files("data_loaders").joinpath("reference", "boundaries")


@lru_cache(maxsize=1)
def packaged_counties() -> CountyTable:
    """The counties of the states and the District of Columbia, 2017 edition, without geometry."""
    text = _FOLDER.joinpath("counties.csv").read_text(encoding="utf-8")
    kinds: dict[str, CountyKind] = {kind: kind for kind in COUNTY_KINDS}
    return CountyTable(
        County(CountyFips(row["fips"]), Jurisdiction(row["state"]), row["name"], kinds[row["kind"]])
        for row in csv.DictReader(io.StringIO(text))
    )


def packaged_boundaries_sha256() -> str:
    """Content hash of the two packaged files."""
    return bytes_sha256(b"".join(_FOLDER.joinpath(name).read_bytes() for name in ("counties.csv", "counties.topojson.gz")))


def packaged_geometry() -> dict[CountyFips, MultiPolygon]:
    """The polygon of each county, WGS84 longitude and latitude. Neighbours share every vertex of their border."""
    topology = json.loads(gzip.decompress(_FOLDER.joinpath("counties.topojson.gz").read_bytes()))
    arcs = [_decoded(arc, topology["transform"]) for arc in topology["arcs"]]

    def ring(numbers: list[int]) -> NDArray[np.float64]:
        pieces = [arcs[number] if number >= 0 else arcs[~number][::-1] for number in numbers]
        return np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])

    def polygons(county: dict[str, list[list[list[int]]]]) -> list[Polygon]:
        drawn = ([ring(numbers) for numbers in rings] for rings in county["arcs"])
        # Quantisation has folded a few islets to a point or a line: four positions close the smallest ring.
        return [Polygon(shell, [hole for hole in holes if len(hole) >= 4]) for shell, *holes in drawn if len(shell) >= 4]

    counties = topology["objects"]["counties"]["geometries"]
    return {CountyFips(county["id"]): MultiPolygon(polygons(county)) for county in counties}


def _decoded(arc: list[list[int]], transform: dict[str, list[float]]) -> NDArray[np.float64]:
    """TopoJSON arc: running sums of integer steps, scaled and shifted."""
    steps = np.cumsum(np.asarray(arc, dtype=np.int64), axis=0)
    return steps * np.asarray(transform["scale"]) + np.asarray(transform["translate"])
