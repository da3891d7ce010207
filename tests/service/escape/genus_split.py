"""Which genera the escape model may be tuned on, and which are held back.

The part of a genus is drawn from a hash of the seed and the genus alone, so that a genus added to
the catalogue later falls into a part without moving any other. The drawing is written to
``genus_split.csv`` and was committed before the first coefficient was set; run ``python -m
tests.service.escape.genus_split`` to write it again.
"""

import csv
import hashlib
from pathlib import Path
from typing import Literal

Part = Literal["training", "held-back"]

SEED = 1753
"""Species Plantarum. Drawn once; never changed to a luckier one."""
HELD_BACK_SHARE = 0.4

SPLIT_FILE = Path(__file__).with_name("genus_split.csv")
PLANTS_FILE = Path(__file__).parents[3] / "data_loaders" / "reference" / "plants" / "plants.csv"


def genus_of(accepted_name: str) -> str:
    """First word of a name, the hybrid sign left out."""
    return accepted_name.replace("×", " ").split()[0]


def part_of(genus: str) -> Part:
    """The part that ``genus`` is drawn into."""
    digest = hashlib.sha256(f"{SEED}:{genus}".encode()).digest()
    return (
        "held-back" if int.from_bytes(digest[:8], "big") / 2**64 < HELD_BACK_SHARE else "training"
    )


def committed_split() -> dict[str, Part]:
    """Genus -> part, as written in the committed file."""
    with SPLIT_FILE.open(encoding="utf-8", newline="") as stream:
        return {row["genus"]: _part(row["part"]) for row in csv.DictReader(stream)}


def _part(text: str) -> Part:
    if text == "training":
        return "training"
    if text == "held-back":
        return "held-back"
    raise ValueError(f"{SPLIT_FILE.name}: {text!r} is neither training nor held-back")


def write_split() -> None:
    """Draw every genus of the catalogue and write the file."""
    with PLANTS_FILE.open(encoding="utf-8", newline="") as stream:
        genera = sorted({genus_of(row["accepted_name"]) for row in csv.DictReader(stream)})
    with SPLIT_FILE.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(("genus", "part"))
        writer.writerows((genus, part_of(genus)) for genus in genera)


if __name__ == "__main__":
    write_split()
