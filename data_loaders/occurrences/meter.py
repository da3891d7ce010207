"""Telling the asker how far a load has come."""

import time
from dataclasses import dataclass, field
from typing import Literal

from data_loaders.occurrences.report import LoadProgress, Progress

Stage = Literal["checking", "reading", "sorting", "storing", "fetching"]

_SHARES: dict[Stage, tuple[float, float]] = {
    "checking": (0.0, 0.05),
    "reading": (0.05, 0.55),
    "sorting": (0.55, 0.65),
    "storing": (0.65, 1.0),
    "fetching": (0.0, 1.0),
}
"""Where each stage of the bulk path begins and ends, of the whole work of a file.

Measured, roughly.
"""

_BYTES_A_ROW = 400
"""Of a download row, common practice; only the time left rests on it."""


@dataclass
class Meter:
    """Turns what a path knows into ``LoadProgress``."""

    file: str
    size_bytes: int
    progress: Progress | None
    started: float = field(default_factory=time.monotonic)
    furthest: float = 0.0

    def rows_read(self, rows: int) -> None:
        """On the small path, where rows are judged as they are read."""
        expected = max(rows, self.size_bytes // _BYTES_A_ROW)
        self._tell("reading", rows, rows / expected if expected else 1.0)

    def stage(self, stage: Stage, rows: int, share: float) -> None:
        """On the bulk path: ``share`` of one stage is done."""
        begin, end = _SHARES[stage]
        self._tell(stage, rows, begin + (end - begin) * min(max(share, 0.0), 1.0))

    def fetched(self, rows: int, share: float) -> None:
        """From the live interface."""
        self._tell("fetching", rows, share)

    def _tell(self, stage: Stage, rows: int, done: float) -> None:
        if self.progress is None:
            return
        done = self.furthest = max(self.furthest, done)  # a bar that goes back tells nothing
        seconds = time.monotonic() - self.started
        left = seconds * (1 - done) / done if 0 < done < 1 and seconds > 1 else None
        rate = rows / seconds if seconds > 0 else 0.0
        self.progress(LoadProgress(self.file, stage, rows, done, rate, left))
