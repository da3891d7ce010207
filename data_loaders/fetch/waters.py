"""Waters and flow around a site, from the national hydrography."""

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from time import sleep

import httpx

from data_loaders.fetch.around import Around
from data_loaders.fetch.downstream import has_network, main_path, run_on
from data_loaders.fetch.feature_service import Feature, FeatureService, Kept, collection
from data_loaders.fetch.services import Services
from data_loaders.geography.waters import load_waters
from data_loaders.progress import Progress
from data_loaders.report import LoadReport
from service.errors import BadFile

LINES = "NetworkNHDFlowline"
LAYERS = (LINES, "NonNetworkNHDFlowline", "NHDWaterbody", "NHDArea")


@dataclass(frozen=True, slots=True)
class Fetched:
    """What a fetch brought.

    Attributes:
        features: fetched, before the loader judged them; 0 where there is nothing of the kind.
        bytes_fetched: over the network this time; 0 where all of it was here already.
        file: where it is kept, to load again or to look at.
        report: of the load; None where there was nothing to load.
        notes: sentences a person should read.
    """

    features: int
    bytes_fetched: int
    file: Path | None
    report: LoadReport | None
    notes: tuple[str, ...] = ()


def fetch_waters(
    target: Path,
    around: Around,
    services: Services,
    folder: Path,
    *,
    client: httpx.Client | None = None,
    progress: Progress | None = None,
    wait: Callable[[float], None] = sleep,
) -> Fetched:
    """Fetch water bodies and flowlines around a site, and the main path below it, and load them.

    Args:
        target: the store.
        folder: where fetched files are kept.

    Raises:
        LiveError: the service does not answer; what came is kept, the same fetch goes on from it.
        BadRequest: more features than a fetch takes.
        StoreMissing: no store to add to.
    """
    kept = Kept(folder / f"waters_{around.key}.pages")
    at = (around.longitude, around.latitude)
    notes: list[str] = []
    with nullcontext(client) if client else httpx.Client(follow_redirects=True) as session:
        service = FeatureService(
            services.hydrography,
            services.client("the national hydrography", session, wait),
            kept,
            services.pause_s,
            progress,
        )
        found = {
            layer: [one for box in around.boxes for one in service.in_box(layer, box)]
            for layer in LAYERS
        }
        if has_network(found[LINES]):
            found[LINES] += run_on(service, LINES, found[LINES], at)
        elif any(found.values()):
            index = services.client("the linked-data index", session, wait)
            below, why = main_path(index, services.linked_data, at)
            found[LINES] += below
            notes += [f"Where the water runs on is not known: {why}."] if why else []
    return loaded(
        target,
        kept,
        folder / f"waters_{around.key}.geojson",
        _once([one for features in found.values() for one in features]),
        notes,
        lambda file: load_waters(target, [file], progress=progress),
    )


def count_waters(
    around: Around, services: Services, *, client: httpx.Client | None = None
) -> dict[str, int]:
    """How many features each layer has around a site, to say beforehand how much a fetch brings.

    Raises:
        LiveError: the service does not answer.
    """
    with nullcontext(client) if client else httpx.Client(follow_redirects=True) as session:
        service = FeatureService(
            services.hydrography, services.client("the national hydrography", session), None
        )
        return {
            layer: sum(service.count_in_box(layer, box) for box in around.boxes) for layer in LAYERS
        }


def loaded(
    target: Path,
    kept: Kept,
    file: Path,
    features: list[Feature],
    notes: list[str],
    load: Callable[[Path], LoadReport],
) -> Fetched:
    """Put features into a file, load it, and take the pages away once that is done."""
    if not features:
        kept.remove()
        return Fetched(0, kept.bytes_fetched, None, None, tuple(notes))
    file.write_bytes(collection(features))
    try:
        report = load(file)
    except BadFile as error:
        raise BadFile(
            file.name,
            f"what the service sent cannot be loaded ({error.detail})",
            next_step="The service may have changed; download the area and use `reedgate load`.",
        ) from error
    kept.remove()
    return Fetched(len(features), kept.bytes_fetched, file, report, tuple(notes))


def _once(features: list[Feature]) -> list[Feature]:
    """Features that two boxes or queries brought, once."""
    by_id: dict[object, Feature] = {}
    for number, feature in enumerate(features):
        properties = feature.get("properties") or {}
        names = {key.casefold(): value for key, value in properties.items()}
        key = names.get("nhdplusid") or names.get("permanent_identifier") or names.get("comid")
        by_id.setdefault(str(key) if key else number, feature)
    return list(by_id.values())
