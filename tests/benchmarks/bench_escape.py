"""Sixty plants against twenty-five waters: the whole assessment, without the queries for occurrence
evidence.

    python -m tests.benchmarks.bench_escape [--runs N]

Baseline: the bare chain leaves x arrives x persists on arrays for the same pairs, in the same run;
    what is above it is
the factors, the deciding unknowns and the words. Places, waters and records are invented; the
plants are those of the catalogue.
"""

import argparse
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from typing import get_args

from service.escape import assess_many, default_parameters
from service.escape.model import run
from service.escape.setting import setting
from service.values.evidence import RING_RADII_M, Dataset, Evidence, Ring, WaterRecords
from service.values.plants import Plant
from service.values.site import Climate, Place, Reached, Water
from service.values.vocabulary import Flow, PlantId, WaterId, WaterKind
from tests.service.escape.catalogue import plants
from tests.service.escape.samples import POND

PLANTS, WATERS = 60, 25
CLIMATE = Climate("6b", first_frost="10-15")
SAID = replace(POND, name="all said", area_m2=40.0)
UNSAID = Place("nothing said", "pond")


def sixty() -> list[Plant]:
    """Every fifth plant of the catalogue."""
    return [plant for number, plant in enumerate(plants().values()) if number % 5 == 0][:PLANTS]


def twenty_five() -> list[Reached]:
    """Waters of every kind, down- and upstream and off the network, 50 m to 12 km away."""
    kinds: tuple[WaterKind, ...] = get_args(WaterKind)
    flows: tuple[Flow, ...] = get_args(Flow)
    found = []
    for n in range(WATERS):
        water = Water(
            WaterId(f"w{n}"), f"Invented Water {n}", kinds[n % 6], flows[n % 3], -83.0, 40.0
        )
        metres = 50.0 + 20.0 * n**2
        if n % 3 == 0:
            found.append(Reached(water, "downstream", metres, 1.4 * metres, n // 6))
        else:
            found.append(Reached(water, "upstream" if n % 3 == 1 else "near", metres))
    return found


def records_of(plant: Plant, number: int, waters: list[Reached]) -> Evidence:
    """Records in rings and waters, some plants present and some not."""
    seen = number % 4
    return Evidence(
        plant.plant_id,
        loaded=True,
        nearest_m=900.0 if seen else None,
        rings=tuple(
            Ring(radius, seen * (i + 1), 40 * (i + 1) ** 3) for i, radius in enumerate(RING_RADII_M)
        ),
        waters=tuple(
            WaterRecords(w.water.water_id, w.relation, seen * (i % 5 == 0), 12 * i)
            for i, w in enumerate(waters)
        ),
        datasets=(Dataset("k", "Invented records", "CC0-1.0", "Invented records (2024)", seen),)
        if seen
        else (),
    )


def chain_alone(several: list[Plant], place: Place, waters: list[Reached]) -> None:
    """The arrays and nothing else."""
    there = setting(place, CLIMATE, waters, None, default_parameters())
    for plant in several:
        run(plant, there.for_plant(plant.traits)).overall()


def timed(work: Callable[[], object], runs: int) -> list[float]:
    """Milliseconds of every run, after one that is not counted."""
    work()
    found = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        found.append((time.perf_counter() - start) * 1_000)
    return sorted(found)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=40)
    runs: int = parser.parse_args().runs
    several, waters = sixty(), twenty_five()
    evidence = {
        plant.plant_id: records_of(plant, number, waters) for number, plant in enumerate(several)
    }
    print(
        f"{len(several)} plants x {len(waters)} waters = {len(several) * len(waters):,} pairs, {runs} runs"
    )
    for label, place, known in (
        ("all facts, with records", SAID, evidence),
        ("all facts, no records", SAID, {}),
        ("no facts, with records", UNSAID, evidence),
        ("outlet alone unknown", replace(SAID, outlet=None, outlet_flow_l_s=None), evidence),
    ):

        def whole(place: Place = place, known: dict[PlantId, Evidence] = known) -> object:
            return assess_many(several, place, CLIMATE, waters, known)

        def bare(place: Place = place) -> None:
            chain_alone(several, place, waters)

        found, base = timed(whole, runs), timed(bare, runs)
        median = statistics.median(found)
        slowest = found[min(len(found) - 1, round(0.99 * len(found)))]
        ratio = median / statistics.median(base)
        print(
            f"{label:26} median {median:6.1f} ms   p99 {slowest:6.1f} ms   {ratio:4.1f} x the chain alone"
        )


if __name__ == "__main__":
    main()
