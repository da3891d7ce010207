"""The plot of the validation: ROC curves and the share listed by tenths of the score. Needs
matplotlib.
"""

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tests.service.escape.catalogue import listed_somewhere
from tests.service.escape.roc import area_under_curve, roc
from tests.service.escape.validation import baselines, names_in, scored

_LINES = ("-", "--", "-.", ":", (0, (1, 4)))


def draw(path: Path) -> None:
    """Write the plot; the same figures give the same bytes."""
    with mpl.rc_context({"svg.hashsalt": "escape", "svg.fonttype": "path", "font.size": 9}):
        figure = Figure(figsize=(9.0, 4.4), layout="constrained")
        curves, tenths = figure.subplots(1, 2)
        names = names_in("held-back")
        truth = np.array([name in listed_somewhere() for name in names])
        scores = {"the model": scored(), **baselines()}
        for (label, score_of), line in zip(scores.items(), _LINES, strict=True):
            score = np.array([score_of[name] for name in names])
            false_rate, true_rate = roc(truth, score)
            curves.plot(
                false_rate,
                true_rate,
                color="black",
                linestyle=line,
                linewidth=1.3,
                label=f"{label}: {area_under_curve(truth, score):.3f}",
            )
        curves.plot([0, 1], [0, 1], color="0.7", linewidth=0.8)
        curves.set(
            xlabel="share of other plants called a risk",
            ylabel="share of listed plants called a risk",
            title="Held-back genera: ROC curve and area",
            xlim=(0, 1),
            ylim=(0, 1.01),
        )
        curves.legend(loc="lower right", frameon=False)
        _tenths(tenths, names)
        figure.savefig(path, format="svg", metadata={"Date": None})


def _tenths(axes: Axes, names: Sequence[str]) -> None:
    ordered = sorted(names, key=lambda name: (scored()[name], name))
    parts = np.array_split(np.array(ordered, dtype=object), 10)
    listed = [sum(name in listed_somewhere() for name in part) / len(part) for part in parts]
    means = [float(np.mean([scored()[name] for name in part])) for part in parts]
    places = np.arange(1, len(parts) + 1)
    axes.bar(places, listed, color="white", edgecolor="black", hatch="//")
    axes.plot(places, means, color="black", marker="o", markersize=4, linewidth=1)
    axes.set(
        xlabel="tenth of the score, lowest first",
        ylabel="share listed (bars), mean score (line)",
        title="Held-back genera: share listed by tenth",
        xticks=places,
        ylim=(0, 1.01),
    )
