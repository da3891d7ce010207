"""Watersheds around a site, from the national watershed boundaries."""

from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from time import sleep

import httpx

from data_loaders.fetch.around import Around
from data_loaders.fetch.feature_service import FeatureService, Kept
from data_loaders.fetch.services import Services
from data_loaders.fetch.waters import Fetched, loaded
from data_loaders.geography.watersheds import load_watersheds
from data_loaders.progress import Progress

LAYER = "12-digit HU (Subwatershed)"


def fetch_watersheds(
    target: Path,
    around: Around,
    services: Services,
    folder: Path,
    *,
    client: httpx.Client | None = None,
    progress: Progress | None = None,
    wait: Callable[[float], None] = sleep,
) -> Fetched:
    """Fetch the subwatersheds that reach into the surroundings of a site, and load them.

    Raises:
        LiveError: the service does not answer; what came is kept, the same fetch goes on from it.
        StoreMissing: no store to add to.
    """
    kept = Kept(folder / f"watersheds_{around.key}.pages")
    with nullcontext(client) if client else httpx.Client(follow_redirects=True) as session:
        service = FeatureService(
            services.watersheds,
            services.client("the national watershed boundaries", session, wait),
            kept,
            services.pause_s,
            progress,
        )
        found = {
            str((one.get("properties") or {}).get("huc12") or number): one
            for number, one in enumerate(
                one for box in around.boxes for one in service.in_box(LAYER, box)
            )
        }
    return loaded(
        target,
        kept,
        folder / f"watersheds_{around.key}.geojson",
        list(found.values()),
        [],
        lambda file: load_watersheds(target, [file], progress=progress),
    )
