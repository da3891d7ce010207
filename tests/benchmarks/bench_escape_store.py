"""Sixty plants against twenty-five waters, evidence queries and assessment together, on a store of
five million records.

    python -m tests.benchmarks.bench_escape_store [--records 5000000] [--runs 30]

Baseline: the bare evidence queries for the same plants, site and waters, in the same run. Records,
    waters and sites are invented. Each run is
at another site, so nothing is kept from the one before.
"""

import argparse
import random
import statistics
import tempfile
import time
from pathlib import Path

import shapely

from data_loaders.reference_store import load_demo
from service.escape import assess_many
from service.store.database import Build
from service.store.occurrences import EvidenceReader, WaterShape
from service.values.evidence import Evidence
from service.values.site import Reached
from service.values.vocabulary import PlantId
from tests.benchmarks.bench_escape import CLIMATE, SAID, sixty, twenty_five
from tests.benchmarks.bench_plan import add_records


def shapes(
    waters: list[Reached], longitude: float, latitude: float, chance: random.Random
) -> list[WaterShape]:
    """A pond of about a hectare for each water, at its distance from the site."""
    placed: list[WaterShape] = []
    for water in waters:
        east, north = (
            chance.uniform(-1, 1) * water.overland_m / 80_000,
            chance.uniform(-1, 1) * water.overland_m / 111_000,
        )
        placed.append(
            (
                water.water.water_id,
                water.relation,
                shapely.Point(longitude + east, latitude + north).buffer(0.0005),
            )
        )
    return placed


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--records", type=int, default=5_000_000)
    parser.add_argument("--runs", type=int, default=30)
    asked = parser.parse_args()
    several, waters = sixty(), twenty_five()
    plant_ids: list[PlantId] = [plant.plant_id for plant in several]
    chance = random.Random(60_25)
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "bench.db"
        load_demo(store)
        add_records(store, asked.records, Path(folder))
        connection = Build(store).connection
        whole, bare = [], []
        for _ in range(asked.runs):
            longitude, latitude = chance.uniform(-120, -75), chance.uniform(30, 47)
            ponds = shapes(waters, longitude, latitude, chance)
            start = time.perf_counter()
            evidence: dict[PlantId, Evidence] = EvidenceReader(connection).of(
                plant_ids, longitude, latitude, waters=ponds
            )
            between = time.perf_counter()
            assess_many(several, SAID, CLIMATE, waters, evidence)
            whole.append((time.perf_counter() - start) * 1_000)
            bare.append((between - start) * 1_000)
    whole.sort()
    slowest = whole[min(len(whole) - 1, round(0.99 * len(whole)))]
    ratio = statistics.median(whole) / statistics.median(bare)
    print(
        f"{len(several)} plants x {len(waters)} waters on {asked.records:,} records, {asked.runs} sites"
    )
    print(
        f"whole assessment: median {statistics.median(whole):.0f} ms, p99 {slowest:.0f} ms; {ratio:.1f} x the bare evidence queries"
    )


if __name__ == "__main__":
    main()
