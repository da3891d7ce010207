"""Several estimates as one: of a label that may mean any of several plants, and of several
plantings at one water.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from service.escape.classes import class_reached, escape_class
from service.escape.interval import Interval, noisy_or, union
from service.escape.parameters import Parameters
from service.escape.values import Assessment, Estimate, Stage, WaterAssessment


def covering(several: Iterable[Estimate]) -> Estimate:
    """Covers every one of them; as likely as the likeliest."""
    all_of = list(several)
    return Estimate(
        max(one.likely for one in all_of),
        min(one.low for one in all_of),
        max(one.high for one in all_of),
        union(one.cannot_exclude for one in all_of),
    )


def any_estimate(several: Iterable[Estimate]) -> Estimate:
    """At least one of several independent things happens; of none, it is impossible."""
    all_of = list(several)
    ends = noisy_or(one.interval for one in all_of)
    likely = noisy_or(Interval.point(one.likely) for one in all_of).low
    return Estimate(likely, ends.low, ends.high, noisy_or(one.cannot_exclude for one in all_of))


def widest(several: Sequence[Assessment], parameters: Parameters | None = None) -> Assessment:
    """One assessment that covers several of the same waters; words and factors are those of the
    likeliest to escape.
    """
    if len(several) == 1:
        return several[0]
    worst = max(several, key=lambda one: (one.escape_class is not None, one.likely, one.high))
    whole = covering(one.estimate for one in several)
    native = worst.escape_class is None
    return replace(
        worst,
        candidates=tuple(dict.fromkeys(name for one in several for name in one.candidates)),
        waters=tuple(
            _widest_water([one.waters[w] for one in several], worst.waters[w], parameters)
            for w in range(len(worst.waters))
        ),
        estimate=whole,
        escape_class=None if native else escape_class(whole, parameters),
        reaches=None if native else class_reached(whole, parameters),
        this_summer=covering(one.this_summer for one in several),
        notes=tuple(dict.fromkeys(note for one in several for note in one.notes)),
        datasets=tuple(dict.fromkeys(dataset for one in several for dataset in one.datasets)),
    )


def _widest_water(
    several: Sequence[WaterAssessment], worst: WaterAssessment, parameters: Parameters | None
) -> WaterAssessment:
    whole = covering(one.estimate for one in several)
    return replace(
        worst,
        estimate=whole,
        escape_class=escape_class(whole, parameters),
        reaches=class_reached(whole, parameters),
        leaves=_covering_stage(worst.leaves, [one.leaves for one in several]),
        arrives=_covering_stage(worst.arrives, [one.arrives for one in several]),
        persists=_covering_stage(worst.persists, [one.persists for one in several]),
    )


def _covering_stage(worst: Stage, several: Sequence[Stage]) -> Stage:
    return replace(worst, estimate=covering(one.estimate for one in several))
