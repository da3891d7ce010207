"""What judging a part gives: counts, and a file of the rows that are kept."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from data_loaders.occurrences.datasets import DatasetText
from data_loaders.occurrences.report import REASONS
from data_loaders.report import Tally


@dataclass(frozen=True, slots=True)
class JudgedPart:
    """One part, judged.

    Attributes:
        set_apart: reason to rows; those that repeat others are found when parts are merged.
        others: names that are not of the store to their rows, the most frequent.
    """

    rows_read: int
    set_apart: Mapping[str, int] = field(default_factory=dict)
    examples: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    others: Mapping[str, int] = field(default_factory=dict)

    @property
    def rows_kept(self) -> int:
        return self.rows_read - sum(self.set_apart.values())

    @classmethod
    def of_rows(
        cls,
        counts: list[tuple[int, int]],
        examples: list[tuple[int, str]],
        others: list[tuple[str, int]],
    ) -> "JudgedPart":
        """From the answers to ``rules.COUNTS``, ``EXAMPLES`` and ``OTHERS``."""
        shown: dict[str, list[str]] = {}
        for code, key in examples:
            shown.setdefault(REASONS[code], []).append(key)
        return cls(
            sum(count for _, count in counts),
            {REASONS[code]: count for code, count in counts if code >= 0},
            {reason: tuple(keys) for reason, keys in shown.items()},
            dict(others),
        )

    def add_to(self, tally: Tally, examples: int) -> None:
        """Join the counts of a source."""
        tally.read(self.rows_read)
        for reason, rows in self.set_apart.items():
            tally.apart(reason, rows)
        for reason, keys in self.examples.items():
            room = examples - len(tally.examples[reason])
            tally.examples[reason] += keys[:room]
        tally.others.update(self.others)


def write_counts(path: Path, part: JudgedPart) -> None:
    """Put the counts beside the file of rows."""
    path.write_text(json.dumps(asdict(part), ensure_ascii=False), encoding="utf-8")


def read_counts(path: Path) -> JudgedPart:
    """The counts that ``write_counts`` put there."""
    read = json.loads(path.read_text(encoding="utf-8"))
    examples = {reason: tuple(keys) for reason, keys in read["examples"].items()}
    return JudgedPart(read["rows_read"], read["set_apart"], examples, read["others"])


@dataclass(frozen=True, slots=True)
class Batch:
    """What judging one part, or several together, has left in the workspace.

    Attributes:
        key: of the files of rows and counts.
        sha256s: of the parts.
        own: of the table itself, as its metadata have it.
    """

    key: str
    sha256s: tuple[str, ...]
    notes: tuple[str, ...]
    texts: Mapping[str, DatasetText]
    own: DatasetText


def write_batches(path: Path, batches: list[Batch]) -> None:
    """Note what became of parts that are not here any more."""
    unfinished = path.with_suffix(".unfinished")
    content = [asdict(batch) for batch in batches]
    unfinished.write_text(json.dumps(content, ensure_ascii=False), encoding="utf-8")
    unfinished.replace(path)


def read_batches(path: Path) -> list[Batch]:
    """What ``write_batches`` noted."""
    return [
        Batch(
            one["key"],
            tuple(one["sha256s"]),
            tuple(one["notes"]),
            {key: DatasetText(**text) for key, text in one["texts"].items()},
            DatasetText(**one["own"]),
        )
        for one in json.loads(path.read_text(encoding="utf-8"))
    ]
