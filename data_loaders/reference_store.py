"""The store of the package's own reference data: plants, names, law, counties, zones."""

from pathlib import Path

from data_loaders.build import drafting
from data_loaders.geography.boundaries import add_boundaries
from data_loaders.geography.packaged import packaged_counties
from data_loaders.geography.wetland_indicators import add_wetland_indicators
from data_loaders.plants.catalogue import add_catalogue, add_hybrids
from data_loaders.plants.nativity import add_native_states
from data_loaders.regulations.load import add_lists, reference_lists


def load_reference(target: Path) -> None:
    """Build the store anew from the reference data and put it at ``target``.

    Raises:
        BadFile: a reference file has an error; the present store stays.
    """
    with drafting(target, on_top=False) as draft:
        add_catalogue(draft)
        add_lists(draft, reference_lists(), packaged_counties())
        add_hybrids(draft)
        add_boundaries(draft)
        add_wetland_indicators(draft)
        add_native_states(draft)
