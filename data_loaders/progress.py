"""How far a load has come: one form for every loader."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

Stage = Literal["checking", "reading", "sorting", "joining", "storing", "comparing", "fetching"]


@dataclass(frozen=True, slots=True)
class LoadProgress:
    """How far a load has come.

    Attributes:
        done: share of ``file``'s work, 0 to 1; None while it cannot be known.
        rows_per_s: over the file so far.
        seconds_left: for this file; None while it cannot be known.
    """

    file: str
    stage: Stage
    rows: int
    done: float | None
    rows_per_s: float = 0.0
    seconds_left: float | None = None


Progress = Callable[[LoadProgress], None]


@dataclass
class Meter:
    """Turns what a loader knows into ``LoadProgress``, and never goes back.

    Attributes:
        shares: where each stage begins and ends, of the whole work of a file; a stage that is not
            named is the whole of it.
    """

    file: str
    progress: Progress | None
    shares: dict[Stage, tuple[float, float]] = field(default_factory=dict)
    started: float = field(default_factory=time.monotonic)
    furthest: float = 0.0

    def rows(self, rows: int, total: int | None) -> None:
        """``rows`` of ``total`` are read."""
        self.stage("reading", rows, rows / total if total else None)

    def stage(self, stage: Stage, rows: int, share: float | None) -> None:
        """``share`` of one stage is done."""
        if self.progress is None:
            return
        seconds = time.monotonic() - self.started
        rate = rows / seconds if seconds > 0 else 0.0
        if share is None:
            self.progress(LoadProgress(self.file, stage, rows, None, rate))
            return
        begin, end = self.shares.get(stage, (0.0, 1.0))
        done = self.furthest = max(self.furthest, begin + (end - begin) * min(max(share, 0.0), 1.0))
        left = seconds * (1 - done) / done if 0 < done < 1 and seconds > 1 else None
        self.progress(LoadProgress(self.file, stage, rows, done, rate, left))
