"""Occurrence records of the store's plants around a site, from the open occurrence search."""

from pathlib import Path

import httpx
import shapely

from data_loaders.fetch.around import Around
from data_loaders.occurrences.live import LiveQuery, load_live, queries_for_plants
from data_loaders.occurrences.live_api import LiveApi, LiveSettings
from data_loaders.progress import Progress
from data_loaders.report import LoadReport

NAMES_AT_ONCE = 40
"""Names in one query: the address of a request is to stay below what servers take."""


def fetch_records(
    target: Path,
    around: Around,
    settings: LiveSettings,
    *,
    client: httpx.Client | None = None,
    progress: Progress | None = None,
    api: LiveApi | None = None,
) -> LoadReport:
    """Fetch the records of every plant of the store around a site, and load them.

    Pages go to a journal beside the store first; a fetch that was stopped goes on from there.

    Raises:
        LiveError: the search does not answer.
        BadRequest: more records than paging reaches.
        StoreMissing: no store to add to.
    """
    boxes = shapely.MultiPolygon(
        [shapely.box(box.west, box.south, box.east, box.north) for box in around.boxes]
    )
    area = boxes.geoms[0] if len(boxes.geoms) == 1 else boxes
    names = [query.name for query in queries_for_plants(target, polygon_wkt=area.wkt)]
    queries = [
        LiveQuery(names=tuple(names[at : at + NAMES_AT_ONCE]), polygon_wkt=area.wkt)
        for at in range(0, len(names), NAMES_AT_ONCE)
    ]
    return load_live(target, queries, settings, client=client, progress=progress, api=api)
