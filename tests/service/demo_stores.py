"""One demonstration store for all tests that ask about places; built when the first of them
wants it.
"""

from functools import cache
from pathlib import Path

from service.store.database import Build
from service.store.library import Library
from tests.stores import demo_store

PLANS = Path("demo_data/plans")
PLAN = PLANS / "heron_bend_plan.json"
COMMUNITY = PLANS / "ferrow_community.geojson"
HERON_BEND = (-84.2921, 41.6832)
"""In Ohio, on a creek that reaches Michigan; invented but for the state line."""


def demo_path() -> Path:
    return demo_store()


@cache
def demo_library() -> Library:
    return Library(Build(demo_path())).warm()
