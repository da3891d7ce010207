"""The model against facts from outside: which catalogue plants some state lists as noxious or
invasive.

    python -m tests.service.escape.validation            print the figures python -m
    tests.service.escape.validation --write    and write them into VALIDATION.md, with the plot

The model never sees a list. Plants are held back from any adjustment by genus
(``genus_split.csv``).
"""

import argparse
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

from service.escape.assessment import assess
from service.escape.parameters import default_parameters
from service.values.site import Climate
from tests.service.escape.catalogue import federal_or_genus, listed_somewhere, plants
from tests.service.escape.genus_split import SEED, committed_split, genus_of
from tests.service.escape.standard_sites import PLACE, WATERS, ZONES, Trait, scores, without

FOLDER = Path(__file__).parents[3] / "docs"
REPORT, PLOT = FOLDER / "VALIDATION.md", FOLDER / "validation.svg"
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"

BOOTSTRAPS = 1_000
GOAL = 0.90

Truth = NDArray[np.bool_]
Score = NDArray[np.float64]

VARIANTS: dict[str, tuple[Trait, ...]] = {
    "all traits": (),
    "without spread_rate": ("spread_rate",),
    "without origin": ("native_north_america",),
    "without either": ("spread_rate", "native_north_america"),
}


@dataclass(frozen=True, slots=True)
class Area:
    """Area under the ROC curve, with the 2.5 and 97.5% points of a bootstrap over genera."""

    value: float
    low: float
    high: float
    plants: int
    listed: int

    def text(self) -> str:
        return f"{self.value:.3f} ({self.low:.3f} to {self.high:.3f})"


def area_under_curve(truth: Truth, score: Score) -> float:
    """Chance that a listed plant scores above one that is not, ties counted half (Mann-Whitney)."""
    positives, negatives = int(truth.sum()), int((~truth).sum())
    ranks: Score = rankdata(score)
    return float((ranks[truth].sum() - positives * (positives + 1) / 2) / (positives * negatives))


def area(names: Sequence[str], score_of: dict[str, float]) -> Area:
    """Area for some plants. Whole genera are drawn again, for plants of one genus are alike."""
    listed = listed_somewhere()
    truth = np.array([name in listed for name in names])
    score = np.array([score_of[name] for name in names])
    genera = np.array([genus_of(name) for name in names])
    members = [np.flatnonzero(genera == genus) for genus in sorted(set(genera.tolist()))]
    draw = np.random.default_rng(SEED)
    drawn: list[float] = []
    while len(drawn) < BOOTSTRAPS:
        rows = np.concatenate([members[i] for i in draw.integers(0, len(members), len(members))])
        if 0 < truth[rows].sum() < len(rows):
            drawn.append(area_under_curve(truth[rows], score[rows]))
    low, high = np.quantile(drawn, (0.025, 0.975)).tolist()
    return Area(area_under_curve(truth, score), low, high, len(names), int(truth.sum()))


@cache
def names_in(part: str) -> tuple[str, ...]:
    """Accepted names of a part of the split, or of ``all``."""
    split = committed_split()
    return tuple(name for name in plants() if part in ("all", split[genus_of(name)]))


@cache
def scored(variant: str, zones: tuple[str, ...] = ZONES) -> dict[str, float]:
    """Score of every plant with the traits of a variant left out."""
    return scores(
        [without(plant, VARIANTS[variant]) for plant in plants().values()],
        default_parameters(),
        zones,
    )


def roc(truth: Truth, score: Score) -> tuple[Score, Score]:
    """False and true positive rates at every threshold, from none to all."""
    order = np.argsort(-score, kind="stable")
    hits, misses = np.cumsum(truth[order]), np.cumsum(~truth[order])
    last = np.append(np.flatnonzero(np.diff(score[order])), len(score) - 1)
    rates = [np.concatenate(([0.0], counts[last] / counts[-1])) for counts in (misses, hits)]
    return rates[0], rates[1]


def best_threshold(names: Iterable[str], score_of: dict[str, float]) -> float:
    """Score at which sensitivity plus specificity is largest (Youden)."""
    listed = listed_somewhere()
    several = list(names)
    truth = np.array([name in listed for name in several])
    score = np.array([score_of[name] for name in several])
    thresholds = np.unique(score)
    gains = [
        truth[score >= limit].sum() / truth.sum() - (score >= limit)[~truth].mean()
        for limit in thresholds
    ]
    return float(thresholds[int(np.argmax(gains))])


def deciles(
    names: Sequence[str], score_of: dict[str, float]
) -> list[tuple[int, float, float, float]]:
    """By tenths of the score, lowest first: plants, mean score, share listed, share listed in
    the same tenth by chance.
    """
    listed = listed_somewhere()
    ordered = sorted(names, key=lambda name: (score_of[name], name))
    share = len([name for name in ordered if name in listed]) / len(ordered)
    found = []
    for tenth in np.array_split(np.array(ordered, dtype=object), 10):
        group = [str(name) for name in tenth]
        mean = sum(score_of[name] for name in group) / len(group)
        found.append((len(group), mean, sum(name in listed for name in group) / len(group), share))
    return found


def worst_misses(score_of: dict[str, float], number: int = 10) -> tuple[list[str], list[str]]:
    """Listed plants that score lowest, and plants on no list that score highest."""
    listed = listed_somewhere()
    ordered = sorted(score_of, key=lambda name: (score_of[name], name))
    return [name for name in ordered if name in listed][:number], [
        name for name in reversed(ordered) if name not in listed
    ][:number]


def held_down_by(name: str) -> str:
    """The weightiest establish factors at the zone where the plant scores highest."""
    plant = plants()[name]
    by_zone = [(scored("all traits", (zone,))[name], zone) for zone in ZONES]
    zone = max(by_zone)[1]
    found = assess(plant, PLACE, Climate(hardiness_zone=zone), WATERS, None)
    widest = max(found.waters, key=lambda water: water.interval.high)
    factors = [factor for factor in widest.establish.factors if factor.name != "growing season"][:2]
    return "; ".join(f"{factor.name}: {factor.value}" for factor in factors)


def figures() -> str:
    """The generated part of the report, in Markdown."""
    return "\n".join(
        [*_areas(), "", *_by_zone(), "", *_classes(), "", *_calibration(), "", *_misses()]
    )


def _areas() -> list[str]:
    lines = [
        "| area under the curve | held-back genera | training genera | all |",
        "|---|---|---|---|",
    ]
    for variant in VARIANTS:
        found = [area(names_in(part), scored(variant)) for part in ("held-back", "training", "all")]
        lines.append(f"| {variant} | {' | '.join(one.text() for one in found)} |")
    held, trained = (
        area(names_in(part), scored("all traits")) for part in ("held-back", "training")
    )
    foreign = tuple(
        name
        for name in names_in("held-back")
        if plants()[name].traits.native_north_america != "yes"
    )
    apart = area(foreign, scored("all traits"))
    lines += [
        "",
        f"Held back: {held.plants} plants, {held.listed} listed. Training: {trained.plants} plants, "
        f"{trained.listed} listed. In brackets the 2.5 and 97.5% points of {BOOTSTRAPS:,} bootstrap draws of whole "
        "genera.",
        f"Among the {apart.plants} held-back plants that are not wholly native ({apart.listed} listed): {apart.text()}.",
        f"The goal of {GOAL:.2f} on held-back genera is {'met' if held.value >= GOAL else 'not met'} with all traits "
        f"and {'met' if area(names_in('held-back'), scored('without spread_rate')).value >= GOAL else 'not met'} "
        "without `spread_rate`.",
    ]
    return lines


def _by_zone() -> list[str]:
    lines = ["| standard site in zone | held-back genera | without spread_rate |", "|---|---|---|"]
    for zone in ZONES:
        found = [
            area(names_in("held-back"), scored(one, (zone,)))
            for one in ("all traits", "without spread_rate")
        ]
        lines.append(f"| {zone} | {' | '.join(one.text() for one in found)} |")
    return lines


def _classes() -> list[str]:
    listed = listed_somewhere()
    limit = best_threshold(names_in("training"), scored("all traits"))
    held = names_in("held-back")
    caught = [scored("all traits")[name] >= limit for name in held if name in listed]
    spared = [scored("all traits")[name] < limit for name in held if name not in listed]
    return [
        f"At the score that parts the training genera best ({limit:.3f}), {sum(caught)} of {len(caught)} listed and "
        f"{sum(spared)} of {len(spared)} other held-back plants fall on their side: sensitivity "
        f"{sum(caught) / len(caught):.2f}, specificity {sum(spared) / len(spared):.2f}."
    ]


def _calibration() -> list[str]:
    lines = [
        "| tenth of the score, held-back | plants | mean score | share listed |",
        "|---|---|---|---|",
    ]
    for number, (count, mean, share, _) in enumerate(
        deciles(names_in("held-back"), scored("all traits")), start=1
    ):
        lines.append(f"| {number} | {count} | {mean:.3f} | {share:.2f} |")
    return lines


def _misses() -> list[str]:
    listed = listed_somewhere()
    split = committed_split()
    score_of = scored("all traits")
    low, high = worst_misses(score_of)
    lines = [
        "| listed, but scores low | part | score | lists | what holds it down |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| {name} | {split[genus_of(name)]} | {score_of[name]:.3f} | {len(listed[name])} | {held_down_by(name)} |"
        for name in low
    ]
    lines += [
        "",
        "| scores high, on no state's list by name | part | score | traits | listed otherwise |",
    ]
    lines += ["|---|---|---|---|---|"]
    lines += [
        f"| {name} | {split[genus_of(name)]} | {score_of[name]:.3f} | {_traits(name)} | {federal_or_genus(name)} |"
        for name in high
    ]
    return lines


def _traits(name: str) -> str:
    traits = plants()[name].traits
    origin = {"yes": "native", "part": "native in part", "no": "introduced", None: "origin unknown"}
    return f"{origin[traits.native_north_america]}, {traits.spread_rate}, {traits.growth_form}"


def with_figures(report: str) -> str:
    """The report with its generated part brought up to date."""
    before, rest = report.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n{figures()}\n{END}{after}"


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--write", action="store_true", help="write the figures and the plot")
    if parser.parse_args().write:
        from tests.service.escape.validation_plot import draw

        REPORT.write_text(with_figures(REPORT.read_text(encoding="utf-8")), encoding="utf-8")
        draw(PLOT)
    print(figures())


if __name__ == "__main__":
    main()
