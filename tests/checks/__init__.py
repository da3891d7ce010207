"""Published tables and worked examples, each row with its citation and how it is known."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one file of this folder."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def inputs(text: str) -> dict[str, float]:
    """``"a=1 b=2"`` as numbers by name."""
    return {key: float(value) for key, value in (pair.split("=") for pair in text.split())}
