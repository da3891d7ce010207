"""A plan of sixty plants and a screening of three hundred sites with ten plantings each, end to
end, in processor time, with the time of each stage as shares.

    python -m tests.benchmarks.bench_plan [--sites 5000] [--records 5000000] [--store PATH]

Baseline: parsing the same documents with the json module, in the same run. Without ``--records``
    the store is that of the demonstration;
with it, so many invented records over the country lie in it besides. Plants, positions and facts
are drawn by a seeded generator.
"""

import argparse
import cProfile
import json
import pstats
import random
import resource
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from data_loaders.occurrences import load_occurrences
from data_loaders.reference_store import load_demo
from service.checks.community.screening import screen_community
from service.checks.plan.check import check_plan
from service.input.community import read_community
from service.input.json_document import parse_json
from service.input.plan import read_plan
from service.output.html.report import report_of
from service.output.models.community import community_json
from service.output.models.plan import plan_json
from service.store.database import Build
from service.store.library import Library
from tests.benchmarks.occurrence_download import write_download

ON = date(2026, 6, 1)
PLANTS, SITES, PER_SITE = 60, 300, 10
STAGES = {
    "names": ("resolver.py", "resolve_all"),
    "site and waters": ("site.py", "describe_site"),
    "waters of places": ("waters.py", "waters_of"),
    "where each site is": ("site.py", "locate_site"),
    "law": ("for_name.py", "find_for_name"),
    "lanes": ("shipping.py", "ship"),
    "fit": ("fitting.py", "fit"),
    "records": ("occurrences.py", "of"),
    "records of sites": ("occurrences.py", "presence"),
    "escape": ("assessment.py", "assess"),
    "escape of sites": ("screening.py", "screen"),
    "containment": ("plan.py", "design"),
    "substitutes": ("substitutes.py", "offer"),
    "decisions": ("decisions.py", "decisions"),
    "open facts": ("open_facts.py", "open_facts"),
}
"""Where each stage begins: file and function. Substitutes hold fits, records and escapes of
their own.
"""


def plan_document(library: Library, chance: random.Random, plants: int = PLANTS) -> dict[str, Any]:
    """A pond, a bog and a brook with plants drawn from all that the catalogue has."""
    names = [plant.accepted_name for plant in library.plants.values() if plant.catalogued]
    places = [
        {
            "name": "Pond",
            "kind": "pond",
            "area_m2": 300,
            "depth_cm": 120,
            "flow": "still",
            "light": "sun",
            "outlet": True,
            "overflow": True,
        },
        {"name": "Bog", "kind": "bog", "area_m2": 80, "outlet": False, "lined": True},
        {
            "name": "Brook",
            "kind": "stream",
            "area_m2": 60,
            "depth_cm": 20,
            "flow": "moving",
            "flood_prone": True,
        },
    ]
    plantings = [
        {
            "label": f"{name} {chance.choice(['', '4in', '1 gal'])}".strip(),
            "count": chance.randint(1, 40),
            "place": chance.choice(places)["name"],
            "crown_depth_cm": chance.choice([-5, 0, 10, 40]),
            **({"brought_from": "US-TN"} if chance.random() < 0.3 else {}),
        }
        for name in chance.sample(names, plants)
    ]
    site = {
        "geometry": {"type": "Point", "coordinates": [-84.2921, 41.6832]},
        "first_frost": "10-10",
    }
    return {"site": site, "places": places, "plantings": plantings}


def community_document(
    library: Library, chance: random.Random, sites: int = SITES
) -> dict[str, Any]:
    """Sites over the invented county, with ten plants each of all that the catalogue has."""
    names = [plant.accepted_name for plant in library.plants.values() if plant.catalogued]
    features = []
    for number in range(sites):
        position = [
            round(-84.25 + chance.uniform(-0.17, 0.15), 6),
            round(41.68 + chance.uniform(-0.13, 0.12), 6),
        ]
        properties = {
            "name": f"Site {number}",
            "place_kind": chance.choice(["pond", "bog", "stream"]),
            "area_m2": chance.choice([10, 60, 400]),
            "outlet": chance.choice([True, False, None]),
            "overflow": chance.choice([True, False, None]),
            "plantings": "; ".join(chance.sample(names, PER_SITE)),
        }
        features.append(
            {
                "type": "Feature",
                "geometry": {"type": "Point", "coordinates": position},
                "properties": properties,
            }
        )
    return {"type": "FeatureCollection", "features": features}


def add_records(store: Path, records: int, folder: Path) -> None:
    """Invented records over the whole country, thicker around four hundred invented towns."""
    names = (
        Build(store)
        .connection.execute(
            "SELECT accepted_name, authorship FROM plant WHERE rank = 'species' ORDER BY plant_id"
        )
        .fetchall()
    )
    table = folder / "records.tsv"
    write_download(table, records, [(row[0], row[1]) for row in names])
    load_occurrences(store, [table])


def timed(work: Callable[[], Any], runs: int) -> float:
    """Median seconds of processor time: on a shared machine the clock on the wall tells of the
    neighbours.
    """
    seconds = []
    for _ in range(runs):
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return statistics.median(seconds)


def shares(work: Callable[[], Any]) -> str:
    """Share of each stage in the time of one run."""
    profile = cProfile.Profile()
    profile.runcall(work)
    stats: dict[Any, Any] = pstats.Stats(profile).stats  # type: ignore[attr-defined]
    whole = max(cumulative for _, _, _, cumulative, _ in stats.values())
    found = {
        stage: sum(
            cumulative
            for (path, _, name), (_, _, _, cumulative, _) in stats.items()
            if path.endswith(f"/{file}") and name == function
        )
        for stage, (file, function) in STAGES.items()
    }
    return ", ".join(
        f"{stage} {seconds / whole:.0%}"
        for stage, seconds in sorted(found.items(), key=lambda item: -item[1])
        if seconds
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--sites", type=int, default=SITES, help="sites of the screening")
    parser.add_argument("--records", type=int, default=0, help="invented records to add")
    parser.add_argument("--store", type=Path, help="a store to use as it is")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        store = asked.store or Path(folder) / "demo.db"
        if asked.store is None:
            load_demo(store)
            if asked.records:
                start = time.perf_counter()
                add_records(store, asked.records, Path(folder))
                print(f"{asked.records:,} records added in {time.perf_counter() - start:.0f} s")
        run(Library(Build(store)).warm(), asked.sites)


def run(library: Library, sites: int) -> None:
    plan_text = json.dumps(plan_document(library, random.Random(1))).encode()
    community_text = json.dumps(community_document(library, random.Random(2), sites)).encode()
    plan, community = read_plan(parse_json(plan_text)), read_community(parse_json(community_text))
    baseline = timed(lambda: (json.loads(plan_text), json.loads(community_text)), 20)
    print(f"baseline: both documents through the json module, {baseline * 1000:.2f} ms")

    def whole_plan() -> bytes:
        return plan_json(check_plan(library, read_plan(parse_json(plan_text)), on=ON))

    def whole_community() -> bytes:
        return community_json(
            screen_community(library, read_community(parse_json(community_text)), on=ON)
        )

    first = timed(whole_plan, 1)
    again = timed(whole_plan, 5)
    answer = check_plan(library, plan, on=ON)
    report = timed(lambda: report_of(library, answer), 3)
    small = {**json.loads(plan_text), "plantings": json.loads(plan_text)["plantings"][:12]}
    twelve = timed(lambda: check_plan(library, read_plan(small), on=ON), 5)
    print(f"plan of 12 plants, checked: {twelve:.2f} s, {twelve / baseline:,.0f}x the baseline")
    print(
        f"plan of {PLANTS} plants, JSON in to JSON out: first {first:.2f} s, then {again:.2f} s, {again / baseline:,.0f}x the baseline"
    )
    print(f"  the report beside it: {report:.2f} s")
    print(f"  of the check: {shares(lambda: check_plan(library, plan, on=ON))}")
    seconds = timed(whole_community, 1)
    print(
        f"{sites} sites x {PER_SITE} plantings, GeoJSON in to JSON out: {seconds:.2f} s, {seconds / baseline:,.0f}x the baseline, {seconds / sites * 1000:.1f} ms a site"
    )
    if sites <= SITES:
        print(f"  of the screening: {shares(lambda: screen_community(library, community, on=ON))}")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
