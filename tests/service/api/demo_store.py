"""A store with all that the demo data have: invented waters, watersheds, zones and records beside the reference data."""

from pathlib import Path

from fastapi import FastAPI

from data_loaders.geography.waters import load_waters
from data_loaders.geography.watersheds import load_watersheds
from data_loaders.geography.zones import load_zones
from data_loaders.occurrences import load_occurrences
from data_loaders.reference_store import load_reference
from demo_data import geography as demo
from service.store.tokens import TokenFile


def build_demo_store(store: Path) -> None:
    load_reference(store)
    load_waters(store, [demo.WATERS])
    load_watersheds(store, demo.WATERSHEDS)
    for zones in (demo.ZONES_BY_ZIP, demo.ZONE_AREAS):
        load_zones(store, zones)
    load_occurrences(store, [demo.OCCURRENCE_TABLE])


def client_token(app: FastAPI) -> str:
    """An Authorization header that may load."""
    tokens: TokenFile = app.state.tokens
    return f"Bearer {tokens.add('tests', ('read', 'load'))[1]}"
