"""Features of a feature service, page by page, each page kept until all of them are there.

The query language is the one that national map services share: ``query`` of a layer with
``where``, ``geometry``, ``outFields``, ``resultOffset`` and ``resultRecordCount``, answered as
GeoJSON with ``exceededTransferLimit`` while there is more. Errors come as 200 with an ``error``
object.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from data_loaders.polite import Json, LiveError, PoliteClient
from data_loaders.progress import Meter, Progress
from service.errors import BadRequest
from service.geography.geodesy import Box

PAGE = 1000
"""Features asked for at once; a service may send fewer."""
MOST_FEATURES = 60_000
"""Of one fetch; more belong into a download."""
_MOST_EMPTY = 1

Feature = dict[str, Any]


@dataclass
class Kept:
    """Pages on disk, so that a fetch that was stopped goes on; taken away when it is through."""

    folder: Path
    fetched: int = 0
    reused: int = 0
    bytes_fetched: int = 0

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)

    def page(self, address: str, query: Mapping[str, str]) -> tuple[Path, Json | None]:
        """Where a page is kept, and the page if it is there whole."""
        key = hashlib.sha256(json.dumps([address, dict(query)], sort_keys=True).encode())
        path = self.folder / f"{key.hexdigest()[:24]}.json"
        try:
            found: Json = json.loads(path.read_bytes())
        except (OSError, ValueError):
            return path, None
        self.reused += 1
        return path, found

    def put(self, path: Path, page: Json) -> None:
        """Keep a page; whole or not at all."""
        content = json.dumps(page).encode()
        half = path.with_suffix(".part")
        half.write_bytes(content)
        half.replace(path)
        self.fetched += 1
        self.bytes_fetched += len(content)

    def remove(self) -> None:
        """The fetch is through."""
        for path in self.folder.iterdir():
            path.unlink()
        self.folder.rmdir()


@dataclass
class FeatureService:
    """The layers of one service, found by name."""

    address: str
    client: PoliteClient
    kept: Kept | None
    pause_s: float = 0.2
    progress: Progress | None = None
    taken: int = 0
    _layers: dict[str, int] = field(default_factory=dict)

    @property
    def _meter(self) -> Meter:
        return Meter(self.client.name, self.progress)

    def in_box(self, layer: str, box: Box) -> Iterator[Feature]:
        """Features of a layer that reach into a box.

        Raises:
            LiveError: the service does not answer, or has no such layer any more.
            BadRequest: more features than a fetch takes.
        """
        yield from self._features(layer, _in_window(box))

    def where(self, layer: str, condition: str) -> Iterator[Feature]:
        """Features of a layer of which a condition is true. Raises: as ``in_box``."""
        yield from self._features(layer, {"where": condition})

    def count_in_box(self, layer: str, box: Box) -> int:
        """How many features a layer has in a box."""
        query = {**_in_window(box), "returnCountOnly": "true", "f": "json"}
        count = self._ask(f"{self.address}/{self._layer(layer)}/query", query).get("count")
        return int(str(count)) if str(count).isdecimal() else 0

    def _features(self, layer: str, condition: Mapping[str, str]) -> Iterator[Feature]:
        address = f"{self.address}/{self._layer(layer)}/query"
        offset, empty = 0, 0
        while True:
            query = {
                **condition,
                "outFields": "*",
                "outSR": "4326",
                "returnGeometry": "true",
                "returnZ": "false",
                "returnM": "false",
                "resultOffset": str(offset),
                "resultRecordCount": str(PAGE),
                "f": "geojson",
            }
            page = self._page(address, query)
            features = page.get("features")
            if not isinstance(features, list):
                raise _changed(self.client.name)
            yield from (feature for feature in features if isinstance(feature, dict))
            offset += len(features)
            self.taken += len(features)
            if self.taken > MOST_FEATURES:
                raise BadRequest(
                    f"There are more than {MOST_FEATURES:,} features around the site.",
                    next_step="Ask for a smaller distance, or download the watershed and load it.",
                )
            self._meter.stage("fetching", self.taken, None)
            if not _has_more(page):
                return
            empty = empty + 1 if not features else 0
            if empty > _MOST_EMPTY:
                raise LiveError(
                    f"{self.client.name} says that there is more, and sends nothing.",
                    next_step="Run the same command again later; it goes on from here.",
                )

    def _page(self, address: str, query: Mapping[str, str]) -> Json:
        path, page = self.kept.page(address, query) if self.kept else (None, None)
        if page is None:
            page = self._ask(address, query)
            if self.kept and path:
                self.kept.put(path, page)
            self.client.sleep(self.pause_s)
        return page

    def _ask(self, address: str, query: Mapping[str, str]) -> Json:
        """An answer; an ``error`` object in an answer of status 200 is asked about once more."""
        said: object = ""
        for attempt in range(2):
            answer = self.client.get(address, query)
            error = answer.get("error")
            if not isinstance(error, dict):
                return answer
            said = error.get("message") or error
            if attempt == 0:
                self.client.sleep(self.client.backoff(attempt))
        raise LiveError(
            f"{self.client.name} answers with an error: {said}.",
            next_step="Run the same command again later; it goes on from here.",
        )

    def _layer(self, name: str) -> int:
        if not self._layers:
            layers = self._ask(self.address, {"f": "json"}).get("layers")
            if not isinstance(layers, list):
                raise _changed(self.client.name)
            self._layers = {
                str(layer.get("name", "")).casefold(): int(str(layer.get("id")))
                for layer in layers
                if isinstance(layer, dict) and str(layer.get("id")).isdecimal()
            }
        found = self._layers.get(name.casefold())
        if found is None:
            raise LiveError(
                f"{self.client.name} has no layer {name!r} any more.",
                next_step="Download the data of the area and use `reedgate load`.",
            )
        return found


def _in_window(box: Box) -> dict[str, str]:
    return {
        "where": "1=1",
        "geometry": f"{box.west:.6f},{box.south:.6f},{box.east:.6f},{box.north:.6f}",
        "geometryType": "esriGeometryEnvelope",
        "inSR": "4326",
        "spatialRel": "esriSpatialRelIntersects",
    }


def _has_more(page: Json) -> bool:
    """``exceededTransferLimit`` is on the answer, or among its properties, by version."""
    properties = page.get("properties")
    inner = properties.get("exceededTransferLimit") if isinstance(properties, dict) else None
    return page.get("exceededTransferLimit") is True or inner is True


def _changed(name: str) -> LiveError:
    return LiveError(
        f"The answer of {name} is not of the form that is read here.",
        next_step="Download the data of the area and use `reedgate load`.",
    )


def collection(features: Sequence[Feature]) -> bytes:
    """Features as a GeoJSON file, in the order of their identifiers, so that the same features
    give the same bytes whatever the pages were.
    """
    ordered = sorted(features, key=lambda feature: json.dumps(feature, sort_keys=True))
    whole = {"type": "FeatureCollection", "features": ordered}
    return json.dumps(whole, sort_keys=True, ensure_ascii=False).encode()
