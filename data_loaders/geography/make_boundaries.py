"""Build the packaged county boundaries from the public cartographic boundary files of the US Census Bureau.

The source is the npm package ``us-atlas`` (ISC licence), which redistributes the Bureau's county boundaries of 2017,
a work of the United States government and so in the public domain, as one quantised topology. Run again with:

    npm pack us-atlas@3.0.1
    python -m data_loaders.geography.make_boundaries us-atlas-3.0.1.tgz

Nothing is simplified here: the topology is cut to the states and the District of Columbia and its arcs, shared by the
counties on either side, are kept as they are. So a border stays one line, and every state line is a county line.
"""

import argparse
import csv
import gzip
import io
import json
import tarfile
from collections.abc import Sequence
from pathlib import Path
from typing import TypedDict

from data_loaders.build import bytes_sha256
from service.geography.counties import STATE_BY_FIPS, CountyKind

HERE = Path(__file__).parent.parent / "reference" / "boundaries"
MEMBER = "package/counties-10m.json"
MAX_MEMBER_BYTES = 20_000_000
KNOWN_SHA256 = "145aaf5d1433352a6a1d8e86b5f149c7c653f9171baf14aaf75ee66575def1b0"
"""Of the member in us-atlas 3.0.1; another edition is built too, with a word that it differs."""


class Transform(TypedDict):
    scale: list[float]
    translate: list[float]


class CountyGeometry(TypedDict):
    type: str
    id: str
    arcs: list[list[int]] | list[list[list[int]]]
    properties: dict[str, str]


class Topology(TypedDict):
    transform: Transform
    arcs: list[list[list[int]]]
    objects: dict[str, dict[str, list[CountyGeometry]]]


_ALASKA: dict[CountyKind, set[str]] = {
    "Municipality": {"02020", "02230"},
    "City and Borough": {"02110", "02220", "02275", "02282"},
    "Borough": {
        *("02013", "02060", "02068", "02090", "02100", "02122", "02130", "02150"),
        *("02164", "02170", "02185", "02188", "02195"),
    },
}


def kind_of(fips: str) -> CountyKind:
    """What the county-level unit is called, by the Census Bureau's numbering: independent cities from 510 up."""
    if fips.startswith("11"):
        return "District"
    if fips.startswith("22"):
        return "Parish"
    if fips.startswith("02"):
        return next((kind for kind, codes in _ALASKA.items() if fips in codes), "Census Area")
    return "city" if fips[2:] >= "510" and fips[:2] in {"24", "29", "32", "51"} else "County"


def cut(source: Topology) -> Topology:
    """The topology with the counties of the states and the District alone, their arcs numbered anew."""
    counties = sorted(
        (county for county in source["objects"]["counties"]["geometries"] if county.get("id", "")[:2] in STATE_BY_FIPS),
        key=lambda county: county["id"],
    )
    numbers: dict[int, int] = {}

    def renumber(arc: int) -> int:
        own = numbers.setdefault(arc if arc >= 0 else ~arc, len(numbers))
        return own if arc >= 0 else ~own

    kept: list[CountyGeometry] = []
    for county in counties:
        polygons = county["arcs"] if county["type"] == "MultiPolygon" else [county["arcs"]]
        arcs = [[[renumber(arc) for arc in ring] for ring in polygon] for polygon in polygons]  # type: ignore[union-attr]
        kept.append({"type": "MultiPolygon", "id": county["id"], "arcs": arcs, "properties": county["properties"]})
    return {
        "transform": source["transform"],
        "arcs": [source["arcs"][number] for number in numbers],
        "objects": {"counties": {"geometries": kept}},
    }


def write(topology: Topology, folder: Path) -> None:
    """Write ``counties.csv`` and ``counties.topojson.gz``, the same bytes for the same input."""
    table = io.StringIO()
    writer = csv.writer(table, lineterminator="\n")
    writer.writerow(["fips", "state", "name", "kind"])
    geometries = topology["objects"]["counties"]["geometries"]
    for county in geometries:
        fips = county["id"]
        writer.writerow([fips, STATE_BY_FIPS[fips[:2]], county["properties"]["name"], kind_of(fips)])
        county["properties"] = {}
    (folder / "counties.csv").write_text(table.getvalue(), encoding="utf-8")
    document = {"type": "Topology", **topology}
    document["objects"] = {"counties": {"type": "GeometryCollection", "geometries": geometries}}
    packed = gzip.compress(json.dumps(document, separators=(",", ":")).encode(), compresslevel=9, mtime=0)
    (folder / "counties.topojson.gz").write_bytes(packed)


def read(archive: Path) -> tuple[Topology, str]:
    """The county topology of a ``us-atlas`` package archive, and its content hash."""
    with tarfile.open(archive) as package:
        stream = package.extractfile(MEMBER)
        if stream is None:
            raise SystemExit(f"{archive.name} has no {MEMBER}.")
        content = stream.read(MAX_MEMBER_BYTES)
    topology: Topology = json.loads(content)
    return topology, bytes_sha256(content)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="Build the packaged county boundaries.")
    parser.add_argument("archive", type=Path, help="us-atlas-3.0.1.tgz, from: npm pack us-atlas@3.0.1")
    parser.add_argument("--out", type=Path, default=HERE)
    options = parser.parse_args(arguments)
    topology, digest = read(options.archive)
    if digest != KNOWN_SHA256:
        print(f"Another edition than the one packaged: {MEMBER} has SHA-256 {digest}.")
    options.out.mkdir(parents=True, exist_ok=True)
    write(cut(topology), options.out)


if __name__ == "__main__":
    main()
