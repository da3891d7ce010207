"""The plot of the validation: ROC curves and the share listed by tenths of the score. Needs
matplotlib.
"""

from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure

from tests.service.escape.catalogue import listed_somewhere
from tests.service.escape.validation import VARIANTS, area, deciles, names_in, roc, scored

_LINES = {
    "all traits": "-",
    "without spread_rate": "--",
    "without origin": "-.",
    "without either": ":",
}


def draw(path: Path) -> None:
    """Write the plot; the same figures give the same bytes."""
    with mpl.rc_context({"svg.hashsalt": "escape", "svg.fonttype": "path", "font.size": 9}):
        figure = Figure(figsize=(9.0, 4.4), layout="constrained")
        curves, tenths = figure.subplots(1, 2)
        listed = listed_somewhere()
        names = names_in("held-back")
        truth = np.array([name in listed for name in names])
        for variant in VARIANTS:
            score = np.array([scored(variant)[name] for name in names])
            false_rate, true_rate = roc(truth, score)
            label = f"{variant}: {area(names, scored(variant)).value:.3f}"
            curves.plot(
                false_rate,
                true_rate,
                color="black",
                linestyle=_LINES[variant],
                linewidth=1.3,
                label=label,
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
        found = deciles(names, scored("all traits"))
        places = np.arange(1, len(found) + 1)
        tenths.bar(
            places,
            [share for _, _, share, _ in found],
            color="white",
            edgecolor="black",
            hatch="//",
        )
        tenths.plot(
            places,
            [mean for _, mean, _, _ in found],
            color="black",
            marker="o",
            markersize=4,
            linewidth=1,
        )
        tenths.axhline(found[0][3], color="0.5", linewidth=0.8)
        tenths.set(
            xlabel="tenth of the score, lowest first",
            ylabel="share listed (bars), mean score (line)",
            title="Held-back genera: share listed by tenth",
            xticks=places,
            ylim=(0, 1.01),
        )
        figure.savefig(path, format="svg", metadata={"Date": None})
