"""The labels of ``labels.txt``, and how an answer does by the expert's."""

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Literal, get_args

from service.names import Resolution

Answer = Literal["sure", "ask", "several", "outside", "goods"]
Score = Literal[
    "right",
    "among the candidates",
    "missed",
    "confirmed and wrong",
    "goods taken for a plant",
    "another species",
]


@dataclass(frozen=True, slots=True)
class Label:
    """A label with the expert's answer; ``taxa`` are accepted names, or the name outside."""

    label: str
    answer: Answer
    taxa: tuple[str, ...]
    why: str


def read_labels() -> list[Label]:
    """Every label of the fixture."""
    text = files(__package__).joinpath("labels.txt").read_text(encoding="utf-8")
    labels: list[Label] = []
    for line in text.splitlines():
        if not line.strip() or line.startswith("#"):
            continue
        label, answer, taxa, why = (cell.strip() for cell in line.split("|"))
        assert answer in get_args(Answer), line
        named = tuple(name.strip() for name in taxa.split(";") if name.strip())
        labels.append(Label(label, answer, named, why))  # type: ignore[arg-type]
    return labels


def score(label: Label, resolution: Resolution) -> Score:
    """How a resolution does.

    ``right`` is the expert's answer: confirmed where the expert is sure, all taxa but unconfirmed
    where the expert asks, nothing for goods, no species for a name outside the catalogue.
    """
    taxa = [candidate.accepted_name for candidate in resolution.candidates]
    if label.answer == "goods":
        return "goods taken for a plant" if taxa else "right"
    if label.answer == "outside":
        return _score_outside(resolution)
    wanted = set(label.taxa)
    if resolution.confirmed:
        if not wanted or not wanted <= set(taxa):
            return "confirmed and wrong"
        if label.answer == "sure" or len(wanted) == 1:
            return "right"
        return "confirmed and wrong"
    if not wanted <= set(taxa):
        return "missed"
    return "among the candidates" if label.answer == "sure" else "right"


def _score_outside(resolution: Resolution) -> Score:
    if resolution.confirmed:
        return "confirmed and wrong"
    lower = [c for c in resolution.candidates if c.rank not in ("genus", "family")]
    if resolution.match not in ("none", "genus") or lower:
        return "another species"
    return "right"


def failing(scored: Sequence[tuple[Label, Score]], *scores: Score) -> list[str]:
    """The labels with one of these scores."""
    return [label.label for label, found in scored if found in scores]
