"""One demonstration store for all tests that ask about places; built when the first of them
wants it.
"""

import tempfile
from functools import cache
from pathlib import Path

from data_loaders.demo_store import load_demo
from service.store.database import Build
from service.store.library import Library

PLANS = Path("demo_data/plans")
PLAN = PLANS / "heron_bend_plan.json"
COMMUNITY = PLANS / "ferrow_community.geojson"
HERON_BEND = (-84.2921, 41.6832)
"""In Ohio, on a creek that reaches Michigan; invented but for the state line."""

_folder = tempfile.TemporaryDirectory(prefix="reedgate-demo-")


@cache
def demo_path() -> Path:
    path = Path(_folder.name) / "demo.db"
    load_demo(path)
    return path


@cache
def demo_library() -> Library:
    return Library(Build(demo_path())).warm()
