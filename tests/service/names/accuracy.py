"""Scoring resolutions of noised names against the taxa that the names stand for."""

import random
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Literal

from data_loaders.reference_store import load_reference
from service.names import NameRecord, Resolution, Resolver, WetlandName
from service.store.catalogue import read_names, read_plants, read_wetland_names
from service.store.database import Build
from service.values.plants import Plant
from tests.service.names.noise import Named, Noise

Score = Literal[
    "right", "several, right among them", "none", "wrong, unconfirmed", "wrong, confirmed"
]
SCORES: tuple[Score, ...] = (
    "right",
    "several, right among them",
    "none",
    "wrong, unconfirmed",
    "wrong, confirmed",
)


ReferenceNames = tuple[list[Plant], list[NameRecord], tuple[()], list[WetlandName]]


def reference_names(folder: Path) -> ReferenceNames:
    """What a resolver over the reference store takes, built in ``folder``."""
    target = folder / "reference.db"
    load_reference(target)
    build = Build(target)
    try:
        connection = build.connection
        plants, names = list(read_plants(connection).values()), list(read_names(connection))
        return plants, names, (), list(read_wetland_names(connection))
    finally:
        build.close()


def named(plants: Iterable[Plant], names: Sequence[NameRecord]) -> list[Named]:
    """Every name with the authorship of its plant, where it is the accepted one, and a common
    name of the plant.
    """
    by_id = {plant.plant_id: plant for plant in plants}
    common = {record.plant_id: record.name for record in reversed(names) if record.kind == "common"}
    return [
        Named(
            record,
            by_id[record.plant_id].authorship if record.kind == "accepted" else "",
            common.get(record.plant_id, ""),
        )
        for record in names
    ]


def score(resolution: Resolution, record: NameRecord) -> Score:
    """How a resolution does by the taxon of the name that the label was made from."""
    taxa = {candidate.plant_id for candidate in resolution.candidates}
    if not taxa:
        return "none"
    if record.plant_id not in taxa:
        return "wrong, confirmed" if resolution.confirmed else "wrong, unconfirmed"
    return "right" if len(taxa) == 1 else "several, right among them"


def tally(
    resolver: Resolver, names: Iterable[Named], noise: Noise, seed: int
) -> tuple[Counter[Score], list[tuple[str, Resolution, NameRecord]]]:
    """Counts of the scores, and the cases that are wrong or found nothing."""
    chance = random.Random(seed)
    counts: Counter[Score] = Counter()
    failed: list[tuple[str, Resolution, NameRecord]] = []
    for name in names:
        label = noise(name, chance)
        if label is None:
            continue
        resolution = resolver.resolve(label)
        result = score(resolution, name.record)
        counts[result] += 1
        if result not in SCORES[:2]:
            failed.append((label, resolution, name.record))
    return counts, failed
