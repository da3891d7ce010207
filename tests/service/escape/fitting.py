"""The weights of the escape model's history term, fitted on training genera alone.

    python -m tests.service.escape.fitting            choose the penalty, fit, and print the weights
    python -m tests.service.escape.fitting --write    and write the table that was fitted on

A plant's likely chance at the standard site is c * s, with c what the chain gives it there (ways
out, distances, winter, habitat, founding; at the zone where c is largest) and s = 1 / (1 + exp(-z)),
z = intercept + sum of weight * term. The weights maximise the likelihood that c * s gives to being
listed, less a ridge penalty on the weights of the standardised terms, each weight kept on the side
that its reason allows. The penalty is the one with the least cross-validated log loss over ten parts
of whole training genera. No held-back genus is read anywhere in this file.
"""

import argparse
import csv
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from service.escape.history import terms
from service.escape.model import run
from service.escape.parameters import HISTORY_TERMS, default_parameters
from service.values.plants import Plant
from tests.service.escape.catalogue import listed_somewhere, plants
from tests.service.escape.genus_split import genus_of, part_of
from tests.service.escape.standard_sites import ZONES, site

TABLE = Path(__file__).with_name("fitted_on.csv")
PENALTIES = (0.3, 1.0, 3.0, 10.0, 30.0, 100.0)
PARTS = 10
SIDE = {"regions": 1, "invasive": 1, "native": -1, "height": 1, "aquatic": 1, "rate": 1}
"""1: never below zero; -1: never above."""
LAST = "rate"
"""Growers' judgement without a source, which may echo the lists: fitted after all others, with their
weights fixed, so that it has only what it adds.
"""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sample:
    """What is fitted on, a row a taxon of a training genus.

    Attributes:
        chain: c of the module's text.
        x: terms in the order of ``HISTORY_TERMS``.
    """

    names: tuple[str, ...]
    chain: Array
    x: Array
    listed: Array

    @property
    def genera(self) -> tuple[str, ...]:
        """Genus of each row."""
        return tuple(genus_of(name) for name in self.names)


@dataclass(frozen=True)
class Fit:
    """Weights in logits a unit of the term, not standardised."""

    intercept: float
    weights: dict[str, float]

    def chance(self, chain: Array, x: Array) -> Array:
        """c * s of each row."""
        z = self.intercept + x @ np.array([self.weights[term] for term in HISTORY_TERMS])
        found: Array = chain / (1.0 + np.exp(-z))
        return found


def training_plants() -> list[Plant]:
    """Catalogue plants of training genera with every term known."""
    return [
        plant
        for name, plant in plants().items()
        if part_of(genus_of(name)) == "training" and len(terms(plant.traits)) == len(HISTORY_TERMS)
    ]


def gathered() -> Sample:
    """The sample, worked out from the catalogue, the lists and the chain."""
    several = training_plants()
    listed = listed_somewhere()
    chain = np.max([_chain(several, zone) for zone in ZONES], axis=0)
    x = np.array([[terms(plant.traits)[term] for term in HISTORY_TERMS] for plant in several])
    names = tuple(plant.accepted_name for plant in several)
    return Sample(names, chain, x, np.array([float(name in listed) for name in names]))


def _chain(several: list[Plant], zone: str) -> Array:
    there = site(zone, default_parameters())
    found = []
    for plant in several:
        outcome = run(plant, there.for_plant(plant.traits))
        certain = replace(outcome, lasting=np.ones_like(outcome.lasting))
        count = outcome.setting.draws.count
        found.append(float(np.median(certain.overall()[:count])))
    return np.array(found)


def fit(sample: Sample, penalty: float) -> Fit:
    """Penalised maximum likelihood: all terms but ``LAST``, then what ``LAST`` adds."""
    last = HISTORY_TERMS.index(LAST)
    first = [i for i in range(len(HISTORY_TERMS)) if i != last]
    weights = np.zeros(len(HISTORY_TERMS))
    intercept, weights[first] = _fitted(sample, first, np.zeros(len(sample.names)), penalty)
    beyond = sample.x[:, first] @ weights[first]
    intercept, weights[[last]] = _fitted(sample, [last], beyond, penalty)
    return Fit(intercept, dict(zip(HISTORY_TERMS, weights.tolist(), strict=True)))


def fit_at_once(sample: Sample, penalty: float) -> Fit:
    """All terms together, for the baseline."""
    intercept, weights = _fitted(
        sample, list(range(len(HISTORY_TERMS))), np.zeros(len(sample.names)), penalty
    )
    return Fit(intercept, dict(zip(HISTORY_TERMS, weights.tolist(), strict=True)))


def _fitted(
    sample: Sample, columns: list[int], beyond: Array, penalty: float
) -> tuple[float, Array]:
    """Intercept and weights of some columns, with a fixed part of the score beside them."""
    mean, spread = sample.x[:, columns].mean(axis=0), sample.x[:, columns].std(axis=0) + 1e-12
    x = (sample.x[:, columns] - mean) / spread
    chain, y = np.clip(sample.chain, 1e-6, 1.0), sample.listed

    def loss(b: Array) -> tuple[float, Array]:
        s = 1.0 / (1.0 + np.exp(-(beyond + b[0] + x @ b[1:])))
        p = np.clip(chain * s, 1e-9, 1.0 - 1e-9)
        value = -(y * np.log(p) + (1 - y) * np.log(1 - p)).sum() + penalty / 2 * (b[1:] ** 2).sum()
        slope = (p - y) / (p * (1 - p)) * chain * s * (1 - s)
        gradient = np.concatenate(([slope.sum()], x.T @ slope + penalty * b[1:]))
        return float(value), gradient

    side = [SIDE[HISTORY_TERMS[column]] for column in columns]
    bounds = [(None, None)] + [(0.0, None) if one > 0 else (None, 0.0) for one in side]
    found = minimize(loss, np.zeros(len(columns) + 1), jac=True, bounds=bounds, method="L-BFGS-B").x
    weights = found[1:] / spread
    return float(found[0] - (weights * mean).sum()), weights


def parts(sample: Sample) -> Array:
    """Which of ten parts each row is in, whole genera together."""
    order = {genus: n for n, genus in enumerate(sorted(set(sample.genera)))}
    shuffled = np.random.default_rng(PARTS).permutation(len(order)) % PARTS
    return np.array([shuffled[order[genus]] for genus in sample.genera])


def held_out(sample: Sample, penalty: float) -> Array:
    """Chance of each row by weights fitted without its genus."""
    part = parts(sample)
    found = np.zeros(len(sample.names))
    for number in range(PARTS):
        out = part == number
        found[out] = fit(some(sample, ~out), penalty).chance(sample.chain[out], sample.x[out])
    return found


def some(sample: Sample, rows: NDArray[np.bool_]) -> Sample:
    """A part of the sample."""
    names = tuple(name for name, taken in zip(sample.names, rows, strict=True) if taken)
    return Sample(names, sample.chain[rows], sample.x[rows], sample.listed[rows])


def log_loss(sample: Sample, chance: Array) -> float:
    """Mean, in nats."""
    p = np.clip(chance, 1e-6, 1 - 1e-6)
    return float(-(sample.listed * np.log(p) + (1 - sample.listed) * np.log(1 - p)).mean())


def chosen_penalty(sample: Sample) -> float:
    """By cross-validated log loss."""
    return min(PENALTIES, key=lambda penalty: log_loss(sample, held_out(sample, penalty)))


def read_table(file: Path = TABLE) -> Sample:
    """The committed sample."""
    with file.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return Sample(
        tuple(row["accepted_name"] for row in rows),
        np.array([float(row["chain"]) for row in rows]),
        np.array([[float(row[term]) for term in HISTORY_TERMS] for row in rows]),
        np.array([float(row["listed"]) for row in rows]),
    )


def write_table(sample: Sample, file: Path = TABLE) -> None:
    """Commit the sample."""
    with file.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(("accepted_name", "chain", *HISTORY_TERMS, "listed"))
        for n, name in enumerate(sample.names):
            numbers = [f"{value:.4f}" for value in (sample.chain[n], *sample.x[n])]
            writer.writerow((name, *numbers, int(sample.listed[n])))


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--write", action="store_true", help="write the table first")
    if parser.parse_args().write:
        write_table(gathered())
    sample = read_table()
    for penalty in PENALTIES:
        print(f"penalty {penalty:6g}: log loss {log_loss(sample, held_out(sample, penalty)):.4f}")
    penalty = chosen_penalty(sample)
    found = fit(sample, penalty)
    print(f"chosen {penalty:g}, {len(sample.names)} taxa, {int(sample.listed.sum())} listed")
    for term, weight in {"intercept": found.intercept, **found.weights}.items():
        print(f"{term} = {weight:.3f}")


if __name__ == "__main__":
    main()
