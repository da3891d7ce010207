"""The counties that come with the package: the table alone, or with the geometry."""

import csv
import gzip
import io
import json
from functools import lru_cache
from importlib.resources import files

from shapely import MultiPolygon

from data_loaders.build import bytes_sha256
from data_loaders.geography.topology import Topology, polygons
from service.geography.counties import COUNTY_KINDS, County, CountyKind, CountyTable
from service.values.vocabulary import CountyFips, Jurisdiction

_FOLDER = files("data_loaders").joinpath("reference", "boundaries")


@lru_cache(maxsize=1)
def packaged_counties() -> CountyTable:
    """The counties of the states and the District of Columbia, names and codes of 2017, without
    geometry.
    """
    text = _FOLDER.joinpath("counties.csv").read_text(encoding="utf-8")
    kinds: dict[str, CountyKind] = {kind: kind for kind in COUNTY_KINDS}
    return CountyTable(
        County(CountyFips(row["fips"]), Jurisdiction(row["state"]), row["name"], kinds[row["kind"]])
        for row in csv.DictReader(io.StringIO(text))
    )


def packaged_boundaries_sha256() -> str:
    """Content hash of the two packaged files."""
    names = ("counties.csv", "counties.topojson.gz")
    return bytes_sha256(b"".join(_FOLDER.joinpath(name).read_bytes() for name in names))


def packaged_polygons() -> dict[CountyFips, MultiPolygon]:
    """The polygon of each county, WGS84 longitude and latitude."""
    topology: Topology = json.loads(
        gzip.decompress(_FOLDER.joinpath("counties.topojson.gz").read_bytes())
    )
    return polygons(topology)
