"""The way the water runs on beyond what was fetched around a site, along its main path.

The high-resolution network numbers its paths: every flowline has a ``hydroseq`` that falls
downstream, the ``levelpathi`` of its path, and the ``dnlevelpat`` of the path that this one runs
into. One query brings the rest of a path. Where the network says nothing, the linked-data index
tells the main path below a position, on the medium-resolution network.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import shapely

from data_loaders.fetch.feature_service import Feature, FeatureService
from data_loaders.polite import PoliteClient
from service.errors import ReedgateError
from service.geography.geodesy import nearest_position

MOST_PATHS = 12
"""Paths followed, each running into the next."""
DOWNSTREAM_KM = 100.0
"""Along the main path, as far as is asked of the linked-data index; 1 to 9999 are taken."""


@dataclass(frozen=True, slots=True)
class _Path:
    level_path: int
    hydroseq: int
    into: int


def run_on(
    service: FeatureService, layer: str, lines: Sequence[Feature], at: tuple[float, float]
) -> Iterator[Feature]:
    """Flowlines below those nearest the site, path by path, those already fetched left out."""
    have = {_number(line, "nhdplusid") for line in lines}
    path = _nearest_path(lines, at)
    for _ in range(MOST_PATHS):
        if path is None:
            return
        found = list(
            service.where(layer, f"levelpathi = {path.level_path} AND hydroseq <= {path.hydroseq}")
        )
        yield from (line for line in found if _number(line, "nhdplusid") not in have)
        have |= {_number(line, "nhdplusid") for line in found}
        path = _next_path(service, layer, found)


def has_network(lines: Sequence[Feature]) -> bool:
    """Whether any flowline says where it runs."""
    return any(_number(line, "hydroseq") for line in lines)


def main_path(
    client: PoliteClient, address: str, at: tuple[float, float]
) -> tuple[list[Feature], str]:
    """The main path below a position by the linked-data index, and why there is none.

    Empty answers, and positions that it does not know, are no failure: coasts and deserts have no
    flowline.
    """
    try:
        found = client.get(f"{address}/comid/position", {"coords": f"POINT({at[0]} {at[1]})"})
        features = found.get("features")
        first: Any = features[0] if isinstance(features, list) and features else {}
        properties = first.get("properties") or {}
        comid = properties.get("comid") or properties.get("identifier")
        if not comid:
            return [], "the linked-data index knows no flowline there"
        path = client.get(
            f"{address}/comid/{comid}/navigation/DM/flowlines",
            {"distance": f"{DOWNSTREAM_KM:g}", "f": "json"},
        ).get("features")
    except (ReedgateError, AttributeError) as error:
        return [], f"the linked-data index did not help ({error})"
    lines = path if isinstance(path, list) else []
    return [_named(line) for line in lines if isinstance(line, dict)], ""


def _named(line: Feature) -> Feature:
    """A line of the index with the column names of the network it is of: 460 is stream or river,
    the common one; the index does not tell.
    """
    comid = str((line.get("properties") or {}).get("nhdplus_comid", ""))
    properties = {"comid": comid, "fcode": 46000}
    return {"type": "Feature", "geometry": line.get("geometry"), "properties": properties}


def _nearest_path(lines: Sequence[Feature], at: tuple[float, float]) -> _Path | None:
    best: tuple[float, _Path] | None = None
    for line in lines:
        path, geometry = _path(line), line.get("geometry")
        if path is None or not geometry:
            continue
        try:
            shape = shapely.geometry.shape(geometry)
            distance = nearest_position(shapely.force_2d(shape), *at).distance_m
        except (ValueError, TypeError, KeyError, shapely.errors.ShapelyError):
            continue
        if best is None or distance < best[0]:
            best = (distance, path)
    return best[1] if best else None


def _next_path(service: FeatureService, layer: str, lines: Sequence[Feature]) -> _Path | None:
    """Where a path runs into the next one: at the line below its last."""
    paths = [(path, line) for line in lines if (path := _path(line)) is not None]
    if not paths:
        return None
    last, line = min(paths, key=lambda pair: pair[0].hydroseq)
    below = _number(line, "dnhydroseq")
    if not below or last.into in (0, last.level_path):
        return None
    return _Path(last.into, below, 0)


def _path(line: Feature) -> _Path | None:
    hydroseq, level_path = _number(line, "hydroseq"), _number(line, "levelpathi")
    if not hydroseq or not level_path:
        return None
    return _Path(level_path, hydroseq, _number(line, "dnlevelpat"))


def _number(line: Feature, name: str) -> int:
    """A whole number of a line, in whatever case its columns are; 0 where it is not there."""
    for key, value in (line.get("properties") or {}).items():
        if key.casefold() == name and value is not None:
            try:
                return int(float(value))
            except (TypeError, ValueError):
                return 0
    return 0
