"""The store of the package's own reference data: plants, names, law, counties, wetland ratings; and
the demonstration store, which adds an invented county.
"""

import tempfile
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from data_loaders.additions import Addition, additions, carry_over
from data_loaders.build import drafting
from data_loaders.geography.boundaries import add_boundaries
from data_loaders.geography.packaged import packaged_counties
from data_loaders.geography.waters import load_waters
from data_loaders.geography.watersheds import load_watersheds
from data_loaders.geography.wetland_indicators import add_wetland_indicators
from data_loaders.geography.zones import load_zones
from data_loaders.occurrences import load_occurrences
from data_loaders.plants.catalogue import add_catalogue, add_hybrids, add_wetland_names
from data_loaders.plants.nativity import add_native_states
from data_loaders.regulations.load import add_lists, reference_lists
from data_loaders.regulations.offices import add_offices
from demo_data import geography
from service.errors import StoreError
from service.names import Resolver
from service.store.catalogue import read_names, read_plants
from service.store.database import Build


@cache
def reference_resolver() -> Resolver:
    """Names by the package's own reference data, where no store is given."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "reference.db"
        load_reference(path)
        build = Build(path)
        try:
            return Resolver(
                read_plants(build.connection).values(), tuple(read_names(build.connection))
            )
        finally:
            build.close()


def load_reference(target: Path, *, drop_additions: bool = False) -> tuple[Addition, ...]:
    """Build the reference part of the store anew at ``target``, under what the operator added.

    Args:
        drop_additions: leave out what the operator added.

    Returns:
        What was added before, and is kept; or, with ``drop_additions``, nothing.

    Raises:
        BadFile: a reference file has an error; the present store stays.
        StoreError: something that was added cannot be kept; the present store stays.
    """
    kept = () if drop_additions else additions(target)
    with drafting(target, on_top=False) as draft:
        add_catalogue(draft)
        add_lists(draft, reference_lists(), packaged_counties())
        add_offices(draft)
        add_hybrids(draft)
        add_boundaries(draft)
        add_wetland_indicators(draft)
        add_native_states(draft)
        add_wetland_names(draft)
        draft.connection.execute("UPDATE source SET origin = 'reference'")
        if kept:
            draft.run_checks()  # of the reference data alone, before more rows join it
            carry_over(draft, target)
    return kept


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
