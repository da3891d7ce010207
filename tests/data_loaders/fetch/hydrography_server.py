"""An invented piece of the national hydrography, answered as its feature service answers.

Shapes follow the services' documented forms; names, numbers and places are invented.
"""

from typing import Any
from urllib.parse import parse_qs

import httpx

HYDRO = "https://hydro.example.gov/NHDPlus_HR/MapServer"
WATERSHEDS = "https://hydro.example.gov/wbd/MapServer"
INDEX = "https://index.example.gov/nldi/linked-data"
SITE = (-89.40, 43.07)

LAYERS = {3: "NetworkNHDFlowline", 4: "NonNetworkNHDFlowline", 8: "NHDArea", 9: "NHDWaterbody"}


def line(number: int, level_path: int, down: int, into: int, coordinates: Any) -> dict[str, Any]:
    """A flowline with upper-case columns, as the service has them."""
    return {
        "type": "Feature",
        "id": number,
        "geometry": {"type": "LineString", "coordinates": coordinates},
        "properties": {
            "OBJECTID": number,
            "NHDPlusID": 55_000_000_000_000.0 + number,
            "GNIS_NAME": f"Alder Creek {level_path}",
            "FCODE": 46006,
            "HydroSeq": 1000.0 - number,
            "DnHydroSeq": 1000.0 - down if down else 0,
            "LevelPathI": level_path,
            "DnLevelPat": into,
        },
    }


CREEK = [
    line(1, 10, 2, 20, [[-89.402, 43.075, 261.2], [-89.401, 43.072, 260.9]]),
    line(2, 10, 3, 20, [[-89.401, 43.072, 260.9], [-89.400, 43.069, 260.0]]),
]
BELOW = [
    line(3, 10, 4, 20, [[-89.400, 43.069], [-89.35, 43.02]]),
    line(4, 20, 5, 20, [[-89.35, 43.02], [-89.30, 42.97]]),
    line(5, 20, 0, 20, [[-89.30, 42.97], [-89.25, 42.90]]),
]
POND = {
    "type": "Feature",
    "id": 31,
    "geometry": {
        "type": "Polygon",
        "coordinates": [
            [[-89.398, 43.068], [-89.396, 43.068], [-89.396, 43.070], [-89.398, 43.068]]
        ],
    },
    "properties": {"NHDPlusID": 77.0, "GNIS_NAME": "Teal Pond", "FCODE": 39004},
}
UNIT = {
    "type": "Feature",
    "geometry": {
        "type": "Polygon",
        "coordinates": [
            [[-89.5, 43.0], [-89.3, 43.0], [-89.3, 43.2], [-89.5, 43.2], [-89.5, 43.0]]
        ],
    },
    "properties": {"huc12": "070900020604", "name": "Alder Creek", "tohuc": "070900020701"},
}


class Hydrography:
    """Answers queries; ``page`` is how many features it sends at once, ``first`` what it sends
    before it behaves, and ``gone_after`` after how many requests it is out of reach.
    """

    def __init__(self, page: int = 1000) -> None:
        self.page = page
        self.first: list[httpx.Response] = []
        self.gone_after: int | None = None
        self.asked: list[dict[str, str]] = []
        self.agents: set[str] = set()
        self.features: dict[int, list[dict[str, Any]]] = {3: CREEK, 4: [], 8: [], 9: [POND]}
        self.below = BELOW
        self.layers = dict(LAYERS)
        self.index_path: list[dict[str, Any]] | None = None

    def __call__(self, request: httpx.Request) -> httpx.Response:
        self.agents.add(request.headers["user-agent"])
        if self.gone_after is not None and len(self.asked) >= self.gone_after:
            raise httpx.ConnectError("gone")
        query = {key: values[0] for key, values in parse_qs(request.url.query.decode()).items()}
        self.asked.append({"path": request.url.path, **query})
        if self.first:
            return self.first.pop(0)
        if "/linked-data/" in request.url.path:
            return self._index(request.url.path)
        if not request.url.path.endswith("/query"):
            return self._described(request.url.path)
        layer = int(request.url.path.split("/")[-2])
        if "/wbd/" in request.url.path:
            found = [UNIT]
        elif query["where"].startswith("levelpathi"):
            found = self._path(query["where"])
        else:
            found = self.features[layer]
        if query.get("returnCountOnly") == "true":
            return httpx.Response(200, json={"count": len(found)})
        offset = int(query["resultOffset"])
        part = found[offset : offset + min(self.page, int(query["resultRecordCount"]))]
        more = offset + len(part) < len(found)
        answer: dict[str, Any] = {"type": "FeatureCollection", "features": part}
        if more:
            answer["properties"] = {"exceededTransferLimit": True}
        return httpx.Response(200, json=answer)

    def _described(self, path: str) -> httpx.Response:
        if "/wbd/" in path:
            layers = [{"id": 6, "name": "12-digit HU (Subwatershed)"}]
        else:
            layers = [{"id": number, "name": name} for number, name in self.layers.items()]
        return httpx.Response(200, json={"layers": layers})

    def _path(self, condition: str) -> list[dict[str, Any]]:
        words = condition.split()
        level_path, most = int(words[2]), int(words[6])
        return [
            one
            for one in (*CREEK, *self.below)
            if one["properties"]["LevelPathI"] == level_path
            and one["properties"]["HydroSeq"] <= most
        ]

    def _index(self, path: str) -> httpx.Response:
        if path.endswith("/position"):
            known = self.index_path is not None
            features = [{"properties": {"identifier": "900", "comid": "900"}}] if known else []
            return httpx.Response(200, json={"type": "FeatureCollection", "features": features})
        features = self.index_path or []
        return httpx.Response(200, json={"type": "FeatureCollection", "features": features})
