"""The figures of the machine reading over the whole corpus, as the table in ``docs/READING.md``.

python -m tests.data_loaders.regulations.reading.figures --write
"""

import sys
import tempfile
from pathlib import Path

from data_loaders.reference_store import load_reference
from data_loaders.regulations.reading import read_document, read_list
from service.store.database import Build
from service.store.library import Library
from tests.data_loaders.regulations.reading.corpus import LISTS_A_SHAPE, samples
from tests.data_loaders.regulations.reading.scoring import Score, score

PAGE = Path("docs/READING.md")
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"


def measure(library: Library, *, a_shape: int = LISTS_A_SHAPE) -> dict[str, Score]:
    """Scores by shape."""
    found: dict[str, Score] = {}
    for sample in samples(library, a_shape=a_shape):
        document = read_document(sample.content, sample.file)
        reading = read_list(document, sample.plan.model, library)
        found.setdefault(sample.shape, Score()).add(score(sample.plan, reading, sample.name))
    return found


def table(found: dict[str, Score]) -> str:
    whole = Score()
    rows = [
        "| shape | documents | names listed | recall | precision | class right | planted differences found | entries lost |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for shape, shape_score in found.items():
        whole.add(shape_score)
        rows.append(_row(shape.replace("_", " "), shape_score))
    rows.append(_row("**all**", whole))
    return "\n".join(rows)


def _row(name: str, score: Score) -> str:
    return (
        f"| {name} | {score.documents} | {score.listed} | {score.recall:.3f} | {score.precision:.3f}"
        f" | {score.class_right:.3f} | {score.planted_found} of {score.planted} | {score.lost} |"
    )


def with_table(text: str, figures: str) -> str:
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{figures}\n{END}{after}"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "reference.db"
        load_reference(store)
        scores = measure(Library(Build(store)))
    figures = table(scores)
    for miss in [miss for score in scores.values() for miss in score.misses]:
        print(miss)
    if "--write" in sys.argv:
        PAGE.write_text(with_table(PAGE.read_text(encoding="utf-8"), figures), encoding="utf-8")
    print(figures)
