"""How often a noised name of the catalogue comes back as the right taxon: the table of
``docs/ACCURACY.md``.

    python -m tests.benchmarks.measure_names            # print
    python -m tests.benchmarks.measure_names --write    # and put it in its place

Seeded: the same catalogue and code print the same table.
"""

import random
import sys
import tempfile
from collections import Counter
from pathlib import Path

from rapidfuzz import fuzz, process, utils

from service.names import Resolver
from tests.service.names.accuracy import SCORES, Score, named, reference_names, tally
from tests.service.names.noise import NOISES, Named, Noise, letters

SEEDS = range(5)
TARGET = Path(__file__).resolve().parents[2] / "docs" / "ACCURACY.md"

_HEAD = """# How well names are resolved

Made by `python -m tests.benchmarks.measure_names --write`; do not edit by hand.

Every name of the reference catalogue ({count:,} names: accepted names, synonyms, common and trade names, cultivars,
misspellings in the store) is changed by a noise and resolved, under {seeds} seeds. The noise model is common practice,
no source. What counts is the taxon that the catalogue has the name for:

- *right*: this taxon alone;
- *several*: this taxon among others, so that a person or the strictest finding decides. Names that the catalogue itself
  holds for several taxa, and genus names, are here by right;
- *none*: nothing was found;
- *wrong, unconfirmed* and *wrong, confirmed*: only other taxa. The second must never happen.

The last column is a plain rapidfuzz best match (`ratio`, lower-cased) over the same names under the first seed: the
share of labels where it gives the right taxon. It knows no doubt, so the rest of its answers are wrong and look sure.

| noise | labels | right | several | none | wrong, unconfirmed | wrong, confirmed | plain best match right |
|---|---:|---:|---:|---:|---:|---:|---:|
"""


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        plants, records, *_ = reference_names(Path(folder))
    resolver = Resolver(plants, records)
    names = named(plants, records)
    long = [name for name in names if letters(name.record.name) >= 8]
    rows = [_row(label, resolver, names, noise) for label, noise in NOISES.items()]
    rows.insert(2, _row("one edit, eight letters and more", resolver, long, NOISES["one edit"]))
    meanings = "".join(
        f"- **{label}**: {(noise.__doc__ or '').strip()}\n" for label, noise in NOISES.items()
    )
    text = f"{_HEAD.format(count=len(names), seeds=len(SEEDS))}{''.join(rows)}\n## The noises\n\n{meanings}"
    print(text)
    if "--write" in sys.argv[1:]:
        TARGET.write_text(text, encoding="utf-8")


def _row(label: str, resolver: Resolver, names: list[Named], noise: Noise) -> str:
    counts: Counter[Score] = Counter()
    for seed in SEEDS:
        counts += tally(resolver, names, noise, seed)[0]
    total = sum(counts.values())
    shares = " | ".join(_share(counts[score], total) for score in SCORES)
    return f"| {label} | {total:,} | {shares} | {_plain(names, noise)} |\n"


def _share(count: int, total: int) -> str:
    return "0" if count == 0 else f"{100 * count / total:.2f}%"


def _plain(names: list[Named], noise: Noise) -> str:
    stored = [utils.default_process(name.record.name) for name in names]
    chance = random.Random(SEEDS[0])
    right = total = 0
    for name in names:
        label = noise(name, chance)
        if label is None:
            continue
        total += 1
        best = process.extractOne(utils.default_process(label), stored, scorer=fuzz.ratio)
        right += best is not None and names[best[2]].record.plant_id == name.record.plant_id
    return f"{100 * right / total:.1f}%"


if __name__ == "__main__":
    main()
