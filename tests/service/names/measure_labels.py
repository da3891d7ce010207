"""``python -m tests.service.names.measure_labels``: the labels of the trades, counted by answer."""

import tempfile
from collections import Counter
from pathlib import Path

from service.names import Resolver
from tests.service.names.accuracy import reference_names
from tests.service.names.labels import Answer, Score, read_labels, score


def main() -> None:
    """Print the counts, then each label that is not right."""
    with tempfile.TemporaryDirectory() as folder:
        resolver = Resolver(*reference_names(Path(folder)))
    counts: Counter[tuple[Answer, Score]] = Counter()
    for label in read_labels():
        resolution = resolver.resolve(label.label)
        found = score(label, resolution)
        counts[label.answer, found] += 1
        if found != "right":
            taxa = [candidate.accepted_name for candidate in resolution.candidates]
            print(f"{found:24} {label.answer:8} {label.label!r}: {resolution.match} {taxa[:5]}")
    for (answer, result), count in sorted(counts.items()):
        print(f"{answer:8} {result:24} {count:4}")


if __name__ == "__main__":
    main()
