"""10,000 mixed labels against the reference catalogue, and against it with a taxonomy of a million
names beside it.

    python -m tests.benchmarks.bench_names [names in the taxonomy]

Baseline in the same run: a plain rapidfuzz best match over the same names, on as many of the labels
    as take a few
seconds; ratios are per label. The taxonomy is invented: syllables, seeded.
"""

import random
import resource
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from rapidfuzz import fuzz, process, utils

from data_loaders.plants.taxonomy import load_taxonomy
from data_loaders.progress import LoadProgress
from service.names import Resolver
from service.store.database import Build
from service.store.names import read_taxonomies
from tests.service.names.accuracy import named, reference_names
from tests.service.names.noise import NOISES, Named

LABELS = 10_000
MIX = {"exact": 4, "size codes": 3, "case": 1, "author added": 1, "one edit": 1}
_ONSETS = (
    "b",
    "c",
    "d",
    "f",
    "g",
    "l",
    "m",
    "n",
    "p",
    "r",
    "s",
    "t",
    "v",
    "br",
    "cr",
    "gl",
    "pl",
    "st",
    "tr",
    "ph",
    "th",
)
_ENDINGS = ("us", "a", "um", "is", "ens", "oides", "ifolia", "ensis")
_PLAIN_SECONDS = 4.0


def main() -> None:
    size = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        plants, records, *_ = reference_names(Path(folder))
        names = named(plants, records)
        labels = list(_labels(names, LABELS))
        small = _timed(Resolver(plants, records), labels)
        plain = _plain([record.name for record in records], labels)
        print(
            f"catalogue, {len(records):,} names: {LABELS:,} labels in {small:.2f} s, {1e6 * small / LABELS:.0f} µs a label"
        )
        print(
            f"  plain rapidfuzz best match: {1e6 * plain:.0f} µs a label; ratio {plain / (small / LABELS):.1f}"
        )

        table = Path(folder) / "invented.tsv"
        invented = _write_taxonomy(table, size)
        started, processor = time.perf_counter(), time.process_time()
        report = load_taxonomy(
            Path(folder) / "reference.db",
            table,
            title="Invented backbone",
            version="1",
            progress=_Bar(),
        )
        loading, working = time.perf_counter() - started, time.process_time() - processor
        peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"taxonomy, {report.rows_kept:,} names loaded in {loading:.0f} s ({working:.0f} s of processor), peak memory {peak_mib:.0f} MiB"
        )
        build = Build(Path(folder) / "reference.db")
        mixed = labels[: LABELS // 2] + list(_edited(invented, LABELS - LABELS // 2))
        random.Random(9).shuffle(mixed)
        large = _timed(Resolver(plants, records, read_taxonomies(build)), mixed)
        plain = _plain([*(record.name for record in records), *_taxonomy_names(size)], mixed)
        print(
            f"catalogue and taxonomy: {LABELS:,} labels in {large:.2f} s, {1e6 * large / LABELS:.0f} µs a label"
        )
        print(
            f"  plain rapidfuzz best match: {1e6 * plain:.0f} µs a label; ratio {plain / (large / LABELS):.0f}"
        )
        build.close()


class _Bar:
    """A line on the terminal for each tenth of the work."""

    def __init__(self) -> None:
        self._told = -1

    def __call__(self, progress: LoadProgress) -> None:
        tenth = int(10 * (progress.done or 0.0))
        if tenth > self._told:
            self._told = tenth
            print(f"  {progress.stage}, {progress.rows:,} rows, {tenth * 10}%")


def _labels(names: Sequence[Named], count: int) -> Iterator[str]:
    chance = random.Random(5)
    noises = [NOISES[noise] for noise, weight in MIX.items() for _ in range(weight)]
    while count:
        label = chance.choice(noises)(chance.choice(names), chance)
        if label is not None:
            count -= 1
            yield label


def _edited(names: Sequence[str], count: int) -> Iterator[str]:
    chance = random.Random(6)
    for _ in range(count):
        name = chance.choice(names)
        place = chance.randrange(1, len(name))
        edited = name[:place] + chance.choice("aeiou") + name[place + 1 :]
        yield chance.choice((name, f'{name} 4"', f"{name} 1 gal", edited))


def _taxonomy_names(size: int) -> Iterator[str]:
    chance = random.Random(7)
    genera = max(1, size // 40)
    for _ in range(genera):
        genus = _word(chance, 3).capitalize()
        for _ in range(size // genera):
            yield f"{genus} {_word(chance, 3)}"


def _word(chance: random.Random, syllables: int) -> str:
    stem = "".join(chance.choice(_ONSETS) + chance.choice("aeiou") for _ in range(syllables))
    return stem + chance.choice("lnrst") + chance.choice(_ENDINGS)


def _write_taxonomy(path: Path, size: int) -> list[str]:
    """Three names in ten are synonyms of the name before them. Gives every hundredth name."""
    kept: list[str] = []
    with path.open("w", encoding="utf-8") as table:
        table.write(
            "taxonID\tscientificName\tscientificNameAuthorship\ttaxonRank\ttaxonomicStatus\tacceptedNameUsageID\tparentNameUsageID\n"
        )
        accepted = ""
        for number, name in enumerate(_taxonomy_names(size)):
            taxon = f"inv-{number:07}"
            synonym = accepted and number % 10 in (3, 6, 9)
            accepted = accepted if synonym else taxon
            status, target = ("Synonym", accepted) if synonym else ("Accepted", "")
            table.write(f"{taxon}\t{name}\tInv.\tspecies\t{status}\t{target}\t\n")
            if number % 100 == 0:
                kept.append(name)
    return kept


def _timed(resolver: Resolver, labels: Sequence[str]) -> float:
    resolver.resolve("Typha latifola")  # lays out the indices
    resolver.resolve("duck acorn")
    started = time.perf_counter()
    resolver.resolve_all(labels)
    return time.perf_counter() - started


def _plain(names: Sequence[str], labels: Sequence[str]) -> float:
    """Seconds a label."""
    stored = [utils.default_process(name) for name in names]
    started = time.perf_counter()
    done = 0
    for label in labels:
        process.extractOne(utils.default_process(label), stored, scorer=fuzz.ratio)
        done += 1
        if time.perf_counter() - started > _PLAIN_SECONDS:
            break
    return (time.perf_counter() - started) / done


if __name__ == "__main__":
    main()
