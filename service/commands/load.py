"""``reedgate load``: builds the store and adds open data to it. Each load is whole or not at all."""

from pathlib import Path

import click

from service.commands.common import console, store_option, store_path


@click.group()
def load() -> None:
    """Build the store, or add open data to it. A load that fails or is stopped leaves the store as it was."""


@load.command()
@store_option
def reference(store: Path | None) -> None:
    """Build or rebuild the store from the package's own reference data.

    \b
    Example:  reedgate load reference
    """
    from data_loaders.reference_store import load_reference

    path = store_path(store)
    load_reference(path)
    console.print(f"Built {path.name} from the reference data.")
