"""Fit, containment, substitutes and cautions for a plan of 60 plants, against the bare formulas.

Run apart: ``python -m tests.benchmarks.bench_containment``. Prints medians and ratios to a baseline
    of the same run: the
storm, weir, foam and growth formulas that one full design rests on, called without any value
objects around them.
"""

import csv
import statistics
import time
from collections.abc import Callable
from importlib.resources import files

from service.cautions import cautions_for
from service.containment import buoyancy, hydraulics, hydrology
from service.fit import fit
from service.substitutes import CandidateFacts, alike, choose
from service.values.growth import days_between_shares, growth_rate_per_day
from service.values.plants import Plant, Range, Traits
from service.values.vocabulary import Jurisdiction, PlantId
from tests.service.containment.plans import CLIMATE, FULL, ON_ISLAND, POND, plan_of

PLANTS = 60
ROUNDS = 15


def catalogue() -> list[Plant]:
    """The catalogue's taxa with the traits that these packages read."""
    text = files("data_loaders").joinpath("reference/plants/plants.csv").read_text(encoding="utf-8")
    return [_plant(row) for row in csv.DictReader(text.splitlines())]


def main() -> None:
    plants = catalogue()
    planned = plants[:: max(1, len(plants) // PLANTS)][:PLANTS]
    baseline = _median(lambda: [_bare_formulas() for _ in planned])
    print(f"{len(planned)} plants, {len(plants)} candidates, median of {ROUNDS} rounds")
    print(f"{'bare formulas':24}{baseline * 1000:10.2f} ms   ratio 1")
    for name, work in (
        ("fit", lambda: [fit(plant, POND, ON_ISLAND, CLIMATE) for plant in planned]),
        ("containment", lambda: [plan_of(plant) for plant in planned]),
        ("substitutes", lambda: [_instead(plant, plants) for plant in planned]),
        (
            "cautions",
            lambda: [
                cautions_for(plant=plant, measures=["harvest"], place=POND) for plant in planned
            ],
        ),
    ):
        seconds = _median(work)
        print(f"{name:24}{seconds * 1000:10.2f} ms   ratio {seconds / baseline:.1f}")


def _instead(plant: Plant, plants: list[Plant]) -> object:
    state = Jurisdiction("US-OH")

    def facts(other: Plant) -> CandidateFacts:
        found = fit(other, POND, ON_ISLAND, CLIMATE)
        return CandidateFacts(other, "", other.nativity(state), "no-entry-found", False, 0, found)

    return choose(plant, alike(plant, plants, state), facts)


def _bare_formulas() -> float:
    """What one full design works out, as bare numbers."""
    storm = hydrology.storm_volume_m3(100, 200, 1000, 74)
    room = hydrology.largest_storm_held_mm(80, 200, 1000, 74)
    rise = hydrology.water_rise_m(storm, 200)
    peak = hydrology.rational_peak_m3_s(0.3, 80, 0.1)
    head = hydraulics.head_over_weir_m(peak, 2, 1.45)
    loss = hydraulics.fine_screen_loss_m(0.005, 0.048, 0.6)
    lift = buoyancy.net_lift_kg_m3(25, 0.003) * 0.82
    pot = buoyancy.HangingPot(0.196, 0.16, 0.16)
    foam = buoyancy.foam_thickness_m(156, 0.05, 2.1, pot, 12, 132, lift)
    draft = buoyancy.draft_m(165, 2.1, foam, pot, 12)
    wait = days_between_shares(0.2, 0.4, growth_rate_per_day((FULL.doubling_days or (7, 21))[0]))
    return room + rise + head + loss + foam + draft + wait


def _median(work: Callable[[], object]) -> float:
    work()
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def _plant(row: dict[str, str]) -> Plant:
    name = row["accepted_name"]
    traits = Traits(
        growth_form=row["growth_form"] or None,  # type: ignore[arg-type]
        height_cm=_range(row, "height_cm"),
        depth_cm=_range(row, "depth_cm"),
        flow=_words(row["flow"]),  # type: ignore[arg-type]
        light=_words(row["light"]),  # type: ignore[arg-type]
        zone_min=int(row["zone_min"]) if row["zone_min"] else None,
        zone_max=int(row["zone_max"]) if row["zone_max"] else None,
        native_north_america=row["native_north_america"] or None,  # type: ignore[arg-type]
        native_regions=_words(row["native_regions"]),
        spread_rate=row["spread_rate"] or None,  # type: ignore[arg-type]
        spread_modes=_words(row["spread_modes"]),  # type: ignore[arg-type]
        perennating_organ=row["perennating_organ"],
        doubling_days=_range(row, "doubling_days"),
        frost_kill=row["frost_kill"] or None,  # type: ignore[arg-type]
        hazards=row["hazards"],
        uses=_words(row["uses"]),
    )
    return Plant(PlantId(name), name, row["rank"], name.split()[0], traits=traits)  # type: ignore[arg-type]


def _range(row: dict[str, str], column: str) -> Range | None:
    low, high = row[f"{column}_min"], row[f"{column}_max"]
    return Range(float(low), float(high)) if low and high else None


def _words(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


if __name__ == "__main__":
    main()
