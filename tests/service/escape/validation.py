"""The model against facts from outside: which catalogue plants some state lists as noxious or
invasive.

    python -m tests.service.escape.validation                 print the figures
    python -m tests.service.escape.validation --write         and write them into docs/VALIDATION.md
    python -m tests.service.escape.validation --scores FILE   accepted_name,score of every plant

The score is the likely chance of escape at the standard site (``standard_sites.py``). The figures
that ``registered.toml`` names were fixed before any weight was fitted; held-back genera
(``genus_split.csv``) were read by nothing that was fitted.
"""

import argparse
import csv
import tomllib
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from service.escape import assess, class_of, default_parameters
from service.escape.history import terms
from service.escape.values import Estimate
from service.values.site import Climate
from tests.service.escape import fitting
from tests.service.escape.catalogue import (
    federal_or_genus,
    listed_by_at_least,
    listed_somewhere,
    plants,
)
from tests.service.escape.genus_split import genus_of, part_of
from tests.service.escape.roc import (
    BOOTSTRAPS,
    area,
    best_threshold,
    difference,
)
from tests.service.escape.standard_sites import (
    FIRST_FROST,
    PLACE,
    WATERS,
    ZONES,
    Trait,
    chances,
    scores,
    without,
)

DOCS = Path(__file__).parents[3] / "docs"
REPORT, PLOT = DOCS / "VALIDATION.md", DOCS / "validation.svg"
REGISTERED = Path(__file__).with_name("registered.toml")
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"
WIDE = 0.6

VARIANTS: dict[str, tuple[Trait, ...]] = {
    "the model": (),
    "with every plant rated moderate by growers": ("spread_rate",),
    "with no record of any plant elsewhere": ("history",),
    "with every plant taken as foreign": ("native_north_america",),
}
_FORMS = ("wet-soil", "emergent", "floating-leaved", "submerged", "free-floating")


@cache
def names_in(part: str) -> tuple[str, ...]:
    """Accepted names of a part of the split, or of ``all``."""
    return tuple(name for name in plants() if part in ("all", part_of(genus_of(name))))


@cache
def foreign_in(part: str) -> tuple[str, ...]:
    """Those that are not wholly native to North America."""
    return tuple(
        name for name in names_in(part) if plants()[name].traits.native_north_america != "yes"
    )


@cache
def scored(variant: str = "the model", zones: tuple[str, ...] = ZONES) -> dict[str, float]:
    """Score of every plant with the traits of a variant made alike."""
    if not VARIANTS[variant]:
        found = [in_zone(zone) for zone in zones]
        return {name: max(by_name[name].likely for by_name in found) for name in plants()}
    several = [without(plant, VARIANTS[variant]) for plant in plants().values()]
    return scores(several, default_parameters(), zones)


@cache
def in_zone(zone: str) -> dict[str, Estimate]:
    """Every plant at the standard site in a zone."""
    return chances(plants().values(), zone, default_parameters())


@cache
def baselines() -> dict[str, dict[str, float]]:
    """Scores of simpler rules, the last two fitted or counted on the terms that the model has."""
    known = {name: plant.traits for name, plant in plants().items()}
    native = {"no": 1.0, "part": 0.5, "yes": 0.0, None: 0.5}
    sample = fitting.read_table()
    plain = fitting.Sample(sample.names, np.ones_like(sample.chain), sample.x, sample.listed)
    logistic = fitting.fit_at_once(plain, fitting.chosen_penalty(sample))
    return {
        "native or not": {n: native[t.native_north_america] for n, t in known.items()},
        "growth form": {
            n: float(_FORMS.index(t.growth_form or "wet-soil")) for n, t in known.items()
        },
        "logistic regression on the same terms": {
            n: logistic.intercept
            + sum(weight * terms(t).get(term, 0.0) for term, weight in logistic.weights.items())
            for n, t in known.items()
        },
        "regions naturalised elsewhere": {
            n: float(t.history.like_climate_regions if t.history else 0) for n, t in known.items()
        },
    }


@cache
def measured() -> dict[str, float]:
    """The registered figures by key."""
    held, foreign = names_in("held-back"), foreign_in("held-back")
    one, three = frozenset(listed_somewhere()), frozenset(listed_by_at_least(3))
    model = area(held, scored(), one).value
    found = {
        "held-back": model,
        "held-back-foreign": area(foreign, scored(), one).value,
        "held-back-three": area(held, scored(), three).value,
        "baselines": max(area(held, other, one).value for other in baselines().values()) - model,
        "decided": min(decided(zone) for zone in ZONES),
    }
    found |= {f"wide-{zone}": wide(zone) for zone in ZONES}
    return found


def wide(zone: str) -> float:
    """Share of plants with an interval wider than 60 points."""
    found = in_zone(zone).values()
    return sum(one.high - one.low > WIDE for one in found) / len(found)


def decided(zone: str) -> float:
    """Share of plants whose interval lies within one class."""
    found = in_zone(zone).values()
    return sum(class_of(one.low) == class_of(one.high) for one in found) / len(found)


def figures() -> str:
    """The generated part of the report, in Markdown."""
    parts = (_registered(), _areas(), _baselines(), _threshold(), _by_zone(), _tenths(), _misses())
    return "\n\n".join("\n".join(lines) for lines in parts)


def _registered() -> list[str]:
    lines = ["| registered before fitting | aim | found | |", "|---|---|---|---|"]
    for figure in tomllib.loads(REGISTERED.read_text(encoding="utf-8"))["figure"]:
        found, aim = measured()[figure["key"]], figure["aim"]
        met = found >= aim if figure["direction"] == "at least" else found <= aim
        lines.append(
            f"| {figure['about']} | {figure['direction']} {aim:.2f} | {found:.3f} | "
            f"{'met' if met else '**missed**'} |"
        )
    return lines


def _areas() -> list[str]:
    one, three = frozenset(listed_somewhere()), frozenset(listed_by_at_least(3))
    parts = ("held-back", "training", "all")
    lines = [
        "| area under the curve | held-back genera | training genera | all |",
        "|---|---|---|---|",
    ]
    rows = [(variant, names_in, scored(variant), one) for variant in VARIANTS]
    rows.append(("the model, plants not wholly native", foreign_in, scored(), one))
    rows.append(("the model, listed by three states", names_in, scored(), three))
    for label, names, score, listed in rows:
        cells = [area(names(part), score, listed).text() for part in parts]
        lines.append(f"| {label} | {' | '.join(cells)} |")
    counts = ", ".join(
        f"{part}: {len(names_in(part))} plants, {sum(n in one for n in names_in(part))} listed, "
        f"{sum(n in three for n in names_in(part))} by three states"
        for part in parts[:2]
    )
    return [*lines, "", f"{counts[0].upper()}{counts[1:]}. In brackets the 2.5 and 97.5% points of "
            f"{BOOTSTRAPS:,} bootstrap draws of whole genera."]  # fmt: skip


def _baselines() -> list[str]:
    one = frozenset(listed_somewhere())
    held, foreign = names_in("held-back"), foreign_in("held-back")
    lines = [
        "| baseline | held-back genera | model less baseline | not wholly native |",
        "|---|---|---|---|",
    ]
    for label, score in baselines().items():
        gain, low, high = difference(held, scored(), score, one)
        lines.append(
            f"| {label} | {area(held, score, one).text()} | {gain:+.3f} ({low:+.3f} to {high:+.3f}) | "
            f"{area(foreign, score, one).text()} |"
        )
    return lines


def _threshold() -> list[str]:
    one = listed_somewhere()
    trained, held = names_in("training"), names_in("held-back")
    limit = best_threshold(
        np.array([name in one for name in trained]), np.array([scored()[name] for name in trained])
    )
    caught = [scored()[name] >= limit for name in held if name in one]
    spared = [scored()[name] < limit for name in held if name not in one]
    return [
        f"At the score that separates the training genera best ({limit:.3f}), {sum(caught)} of "
        f"{len(caught)} listed and {sum(spared)} of {len(spared)} other held-back plants fall on "
        f"their side: sensitivity {sum(caught) / len(caught):.2f}, specificity "
        f"{sum(spared) / len(spared):.2f}."
    ]


def _by_zone() -> list[str]:
    one = frozenset(listed_somewhere())
    lines = [
        "| standard site in zone | wider than 60 points | decided | low, moderate, high | area, held-back genera |",
        "|---|---|---|---|---|",
    ]
    for zone in ZONES:
        classes = [class_of(found.likely) for found in in_zone(zone).values()]
        split = ", ".join(str(classes.count(klass)) for klass in ("low", "moderate", "high"))
        curve = area(names_in("held-back"), scored("the model", (zone,)), one).text()
        lines.append(f"| {zone} | {wide(zone):.1%} | {decided(zone):.1%} | {split} | {curve} |")
    return lines


def _tenths() -> list[str]:
    one = listed_somewhere()
    ordered = sorted(names_in("held-back"), key=lambda name: (scored()[name], name))
    lines = [
        "| tenth of the score, held-back | plants | mean score | share listed |",
        "|---|---|---|---|",
    ]
    for number, tenth in enumerate(np.array_split(np.array(ordered, dtype=object), 10), start=1):
        mean = float(np.mean([scored()[name] for name in tenth]))
        share = sum(name in one for name in tenth) / len(tenth)
        lines.append(f"| {number} | {len(tenth)} | {mean:.3f} | {share:.2f} |")
    return lines


def _misses(number: int = 10) -> list[str]:
    one = listed_somewhere()
    ordered = sorted(scored(), key=lambda name: (scored()[name], name))
    low = [name for name in ordered if name in one][:number]
    high = [name for name in reversed(ordered) if name not in one][:number]
    lines = ["| listed, but scores low | part | score | lists | what keeps it down |"]
    lines += ["|---|---|---|---|---|"]
    lines += [
        f"| {name} | {part_of(genus_of(name))} | {scored()[name]:.3f} | {len(one[name])} | "
        f"{kept_down_by(name)} |"
        for name in low
    ]
    lines += [
        "",
        "| scores high, on no state's list by name | part | score | traits | listed otherwise |",
    ]
    lines += ["|---|---|---|---|---|"]
    lines += [
        f"| {name} | {part_of(genus_of(name))} | {scored()[name]:.3f} | {_traits(name)} | "
        f"{federal_or_genus(name)} |"
        for name in high
    ]
    return lines


def kept_down_by(name: str) -> str:
    """The weightiest factors of lasting at the zone where the plant scores highest."""
    zone = max((in_zone(zone)[name].likely, zone) for zone in ZONES)[1]
    climate = Climate(zone, first_frost=FIRST_FROST)
    found = assess(plants()[name], PLACE, climate, WATERS, None)
    most = max(found.waters, key=lambda water: water.estimate.likely)
    return "; ".join(f"{factor.name}: {factor.value}" for factor in most.persists.factors[:2])


def _traits(name: str) -> str:
    traits = plants()[name].traits
    origin = {"yes": "native", "part": "native in part", "no": "introduced", None: "origin unknown"}
    regions = traits.history.like_climate_regions if traits.history else 0
    return (
        f"{origin[traits.native_north_america]}, {traits.spread_rate}, {traits.growth_form}, "
        f"{regions} regions"
    )


def with_figures(report: str) -> str:
    """The report with its generated part brought up to date."""
    before, rest = report.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n{figures()}\n{END}{after}"


def write_scores(file: Path, names: Sequence[str] | None = None) -> None:
    """``accepted_name,score`` of every plant of the catalogue, in its order."""
    with file.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(("accepted_name", "score"))
        writer.writerows((name, f"{scored()[name]:.6f}") for name in names or plants())


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--write", action="store_true", help="write the figures and the plot")
    parser.add_argument("--scores", type=Path, metavar="FILE", help="write the scores alone")
    asked = parser.parse_args()
    if asked.scores is not None:
        write_scores(asked.scores)
        return
    if asked.write:
        from tests.service.escape.validation_plot import draw

        REPORT.write_text(with_figures(REPORT.read_text(encoding="utf-8")), encoding="utf-8")
        draw(PLOT)
    print(figures())


if __name__ == "__main__":
    main()
