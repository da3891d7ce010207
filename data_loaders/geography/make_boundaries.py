"""Build the packaged counties from boundary files of the US Census Bureau, which are in the public
domain.

Names and codes are those of the Bureau's cartographic boundaries of 2017, as the npm package
``us-atlas`` (ISC licence) carries them. The lines are those of its TIGER/Line files of 2010, which
run out over the water to the real state and county lines, as the Python package
``bokeh_sampledata`` (BSD-3-Clause) carries them, rounded to about a metre. Skagway, which that copy
lacks, is taken from ``us-atlas``. Changes of name and the merger of Bedford city since 2010 are
carried out here; the parts that Petersburg Borough gained in 2013 are not, and Connecticut keeps
its eight counties.
To run it again:

    npm pack us-atlas@3.0.1
    pip install bokeh_sampledata==2026.1
    python -m data_loaders.geography.make_boundaries us-atlas-3.0.1.tgz

``mapshaper`` (npm, MPL-2.0) closes slivers and thins the lines to about 100 m. It works on the
topology, so the counties on either side of a border still share every vertex of it, and every state
line is a county line.
"""

import argparse
import csv
import gzip
import json
import subprocess
import tarfile
import tempfile
from collections import defaultdict
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from data_loaders.geography.topology import Topology, polygons
from service.geography.counties import STATE_BY_FIPS, CountyKind
from service.values.vocabulary import CountyFips

HERE = Path(__file__).parent.parent / "reference" / "boundaries"
MEMBER = "package/counties-10m.json"
MAX_MEMBER_BYTES = 20_000_000
MAPSHAPER = ("npx", "--yes", "mapshaper@0.7.70")
INTERVAL_M = 100
QUANTISATION = 10_000_000

_SINCE_2010 = {"46113": "46102", "02270": "02158", "51515": "51019"}
"""Shannon is Oglala Lakota, Wade Hampton is Kusilvak (2015); Bedford city went into Bedford
County (2013).
"""

_ALASKA: dict[CountyKind, set[str]] = {
    "Municipality": {"02020", "02230"},
    "City and Borough": {"02110", "02220", "02275", "02282"},
    "Borough": {
        *("02013", "02060", "02068", "02090", "02100", "02122", "02130", "02150"),
        *("02164", "02170", "02185", "02188", "02195"),
    },
}


def kind_of(fips: str) -> CountyKind:
    """What the county-level unit is called, by the Census Bureau's numbering: independent cities
    from 510 up.
    """
    if fips.startswith("11"):
        return "District"
    if fips.startswith("22"):
        return "Parish"
    if fips.startswith("02"):
        return next((kind for kind, codes in _ALASKA.items() if fips in codes), "Census Area")
    return "city" if fips[2:] >= "510" and fips[:2] in {"24", "29", "32", "51"} else "County"


def read_atlas(archive: Path) -> Topology:
    """The county topology of a ``us-atlas`` package archive."""
    with tarfile.open(archive) as package:
        stream = package.extractfile(MEMBER)
        if stream is None:
            raise SystemExit(f"{archive.name} has no {MEMBER}.")
        topology: Topology = json.loads(stream.read(MAX_MEMBER_BYTES))
    return topology


def tiger_lines(atlas: Topology, names: dict[CountyFips, str]) -> dict[CountyFips, BaseGeometry]:
    """One geometry a county, by today's code."""
    records: list[dict[str, Any]] = import_module("bokeh_sampledata.us_counties").records()
    pieces: defaultdict[CountyFips, list[BaseGeometry]] = defaultdict(list)
    for record in records:
        fips = CountyFips(_SINCE_2010.get(record["fips"], record["fips"]))
        if fips in names:
            pieces[fips].append(record["geometry"])
    merged = {fips: shapely.union_all(parts) for fips, parts in pieces.items()}
    coarse = polygons(atlas, only=names.keys() - merged.keys())
    return dict(
        sorted(
            (merged | {fips: shapely.make_valid(shape) for fips, shape in coarse.items()}).items()
        )
    )


def thinned(counties: dict[CountyFips, BaseGeometry]) -> Topology:
    """The counties as one topology, cleaned and simplified by mapshaper."""
    features = [
        {
            "type": "Feature",
            "properties": {"fips": fips},
            "geometry": json.loads(shapely.to_geojson(shape)),
        }
        for fips, shape in counties.items()
    ]
    with tempfile.TemporaryDirectory() as folder:
        source, result = Path(folder, "counties.json"), Path(folder, "topology.json")
        source.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
        simplify = ("-simplify", "visvalingam", f"interval={INTERVAL_M}", "keep-shapes")
        output = (
            "-o",
            str(result),
            "format=topojson",
            f"quantization={QUANTISATION}",
            "id-field=fips",
        )
        subprocess.run([*MAPSHAPER, "-i", str(source), "-clean", *simplify, *output], check=True)
        topology: Topology = json.loads(result.read_text())
    return topology


def write(names: dict[CountyFips, str], topology: Topology, folder: Path) -> None:
    """Write ``counties.csv`` and ``counties.topojson.gz``, the same bytes for the same input."""
    with (folder / "counties.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["fips", "state", "name", "kind"])
        writer.writerows(
            [fips, STATE_BY_FIPS[fips[:2]], name, kind_of(fips)] for fips, name in names.items()
        )
    packed = gzip.compress(
        json.dumps(topology, separators=(",", ":")).encode(), compresslevel=9, mtime=0
    )
    (folder / "counties.topojson.gz").write_bytes(packed)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="Build the packaged counties.")
    parser.add_argument(
        "archive", type=Path, help="us-atlas-3.0.1.tgz, from: npm pack us-atlas@3.0.1"
    )
    parser.add_argument("--out", type=Path, default=HERE)
    options = parser.parse_args(arguments)
    atlas = read_atlas(options.archive)
    names = {
        CountyFips(county["id"]): county["properties"]["name"]
        for county in sorted(
            atlas["objects"]["counties"]["geometries"], key=lambda county: county["id"]
        )
        if county["id"][:2] in STATE_BY_FIPS
    }
    options.out.mkdir(parents=True, exist_ok=True)
    write(names, thinned(tiger_lines(atlas, names)), options.out)


if __name__ == "__main__":
    main()
