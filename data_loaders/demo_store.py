"""The demonstration store: the reference data, and the invented county with its waters,
watersheds, zones and records.
"""

import tempfile
from pathlib import Path

from data_loaders.additions import additions
from data_loaders.geography.waters import load_waters
from data_loaders.geography.watersheds import load_watersheds
from data_loaders.geography.zones import load_zones
from data_loaders.occurrences import load_occurrences
from data_loaders.reference_store import load_reference
from demo_data import geography
from service.errors import StoreError


def load_demo(target: Path) -> None:
    """Build the demonstration store and put it at ``target`` in one step; a failure leaves what
    is there, and a store with other additions than the demonstration's is not replaced.

    Raises:
        BadFile, StoreError: a file of the package is damaged.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{target.name}.demo-") as folder:
        building = Path(folder) / target.name
        load_reference(building)
        load_waters(building, [geography.WATERS])
        load_watersheds(building, [geography.WATERSHEDS])
        load_zones(building, [geography.ZONES_BY_ZIP, geography.ZONE_AREAS])
        load_occurrences(building, [geography.OCCURRENCE_ARCHIVE, geography.OCCURRENCE_TABLE])
        own = {addition.source_id for addition in additions(building)}
        others = [found for found in additions(target) if found.source_id not in own]
        if others:
            raise StoreError(
                f"{target.name} holds what was added to it: "
                f"{', '.join(addition.title for addition in others[:5])}.",
                next_step="Build the demonstration elsewhere: reedgate demo --store demo.db.",
            )
        building.replace(target)
