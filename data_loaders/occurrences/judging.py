"""The parts of a source judged batch by batch: what a load left that was stopped is gone on from,
and one damaged part does not lose the others.
"""

import hashlib
import shutil
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from data_loaders.build import file_sha256
from data_loaders.occurrences.addresses import bring
from data_loaders.occurrences.datasets import DatasetText
from data_loaders.occurrences.inputs import Part, RemotePart, Source, joined_sha256
from data_loaders.occurrences.judged import (
    Batch,
    JudgedPart,
    read_batches,
    write_batches,
    write_counts,
)
from data_loaders.occurrences.tables import Reading, RecordTable, inspect
from data_loaders.progress import Meter
from service.errors import BadFile

_DAMAGED_NAMED = 3
"""With so many damaged parts it is no use to look for more."""


class Engine(Protocol):
    """Judges one table; the rows that are kept go into a Parquet file.

    Attributes:
        batch_bytes: of parts that are judged together.
    """

    @property
    def batch_bytes(self) -> int: ...

    def judge(self, table: RecordTable, target: Path, meter: Meter) -> JudgedPart: ...


@dataclass(frozen=True, slots=True)
class Judging:
    """Leaves what is judged in a workspace, under keys of the content."""

    engine: Engine
    workspace: Path

    def batches(self, source: Source, reading: Reading, meter: Meter) -> list[Batch]:
        """Judge a source.

        Raises:
            BadFile: parts are damaged; the other parts of their batches are judged.
        """
        return [
            batch
            for parts in _batches(source.parts, self.engine.batch_bytes)
            for batch in self._batches_of(source, parts, reading, meter)
        ]

    def _batches_of(
        self,
        source: Source,
        parts: Sequence[Part | RemotePart],
        reading: Reading,
        meter: Meter,
    ) -> list[Batch]:
        """Judge parts; those at an address that an earlier run judged are not fetched again."""
        note = self._note(parts, reading)
        if note is not None and note.exists():
            return read_batches(note)
        damaged: list[BadFile] = []
        with ExitStack() as stack:
            here = [stack.enter_context(self._here(part, meter)) for part in parts]
            batches = [
                batch
                for alike in _alike(here, reading, source.name if len(source.parts) > 1 else "")
                for batch in self._judged(alike, damaged, meter)
            ]
            if damaged:
                raise _one_error(damaged)
        if note is not None:
            write_batches(note, batches)
        return batches

    def _note(self, parts: Sequence[Part | RemotePart], reading: Reading) -> Path | None:
        """Where it is noted what became of parts that are not kept here; None where it cannot be
        told whether they are the same another time.
        """
        listed = [part.listed for part in parts if isinstance(part, RemotePart)]
        if not listed or not all(one.tag for one in listed):
            return None
        words = "\n".join([repr(reading), *(one.digest for one in listed)])
        return self.workspace / f"{hashlib.sha256(words.encode()).hexdigest()[:24]}.parts"

    @contextmanager
    def _here(self, part: Part | RemotePart, meter: Meter) -> Iterator[Part]:
        """A part as a file; what was fetched goes once it is judged, or is of no use."""
        if isinstance(part, Part):
            yield part
            return
        path = bring(part.place, part.listed, self.workspace / "fetched", meter)
        try:
            yield Part(path, file_sha256(path))
        except Exception as error:
            if isinstance(error, BadFile):
                shutil.rmtree(path.parent)
            raise
        shutil.rmtree(path.parent)

    def _judged(self, alike: "_Alike", damaged: list[BadFile], meter: Meter) -> list[Batch]:
        """Judge parts together. Where one is damaged, halves of them and halves of those: a few
        batches lead to it, and what is sound is not judged again once it is replaced.

        Args:
            damaged: what is found wrong is added to these.
        """
        if len(damaged) >= _DAMAGED_NAMED:
            return []
        error, halves = alike.damage, alike.halves()
        if error is None:
            if self._is_judged(alike):
                return [alike.batch()]
            if not any(map(self._is_begun, halves)):
                error = self._judge(alike, meter)
                if error is None:
                    return [alike.batch()]
        if error is not None and not halves:
            damaged.append(error)
        return [batch for half in halves for batch in self._judged(half, damaged, meter)]

    def _is_begun(self, alike: "_Alike") -> bool:
        """Whether an earlier run judged these parts, or some of them by themselves."""
        return self._is_judged(alike) or any(map(self._is_begun, alike.halves()))

    def _is_judged(self, alike: "_Alike") -> bool:
        return alike.damage is None and (self.workspace / f"{alike.key}.json").exists()

    def _judge(self, alike: "_Alike", meter: Meter) -> BadFile | None:
        """Leave the kept rows, and then the counts, under their key; or say what is damaged."""
        unfinished = self.workspace / "unfinished.parquet"
        try:
            judged = self.engine.judge(alike.table, unfinished, meter)
        except BadFile as error:
            return error
        unfinished.replace(self.workspace / f"{alike.key}.parquet")
        write_counts(self.workspace / "unfinished.json", judged)
        (self.workspace / "unfinished.json").replace(self.workspace / f"{alike.key}.json")
        return None


@dataclass(frozen=True, slots=True)
class _Alike:
    """Parts that can be judged together, each with its table or with what is wrong with it.

    Attributes:
        dataset: of rows that name none, where the tables are not to say it.
    """

    parts: tuple[Part, ...]
    tables: tuple[RecordTable | BadFile, ...]
    dataset: str

    @property
    def damage(self) -> BadFile | None:
        return next((table for table in self.tables if isinstance(table, BadFile)), None)

    @property
    def first(self) -> RecordTable:
        return next(table for table in self.tables if isinstance(table, RecordTable))

    @property
    def table(self) -> RecordTable:
        """All of them as one."""
        more = tuple(part.path for part in self.parts[1:])
        return replace(
            self.first, more=more, fallback_dataset=self.dataset or self.first.fallback_dataset
        )

    @property
    def key(self) -> str:
        """Of the content, and how it is read."""
        table, digest = self.table, joined_sha256([part.sha256 for part in self.parts])
        return hashlib.sha256(
            f"{digest}\n{sorted(table.columns.items(), key=str)}\n"
            f"{sorted(table.defaults.items())}\n{table.dialect}\n{table.fallback_dataset}".encode()
        ).hexdigest()[:24]

    def halves(self) -> "tuple[_Alike, ...]":
        """None of a single part."""
        middle = len(self.parts) // 2
        spans = (slice(middle), slice(middle, None)) if middle else ()
        return tuple(_Alike(self.parts[span], self.tables[span], self.dataset) for span in spans)

    def batch(self) -> Batch:
        """What becomes of them, once they are judged."""
        first = self.first
        own = first.datasets.get(first.fallback_dataset) or DatasetText()
        sha256s = tuple(part.sha256 for part in self.parts)
        return Batch(self.key, sha256s, first.notes, first.datasets, own)


def _alike(parts: Sequence[Part], reading: Reading, dataset: str) -> Iterator[_Alike]:
    """Parquet of the same columns one after the other; anything else by itself. A damaged part
    counts as like those before it, so that it is in its place when it has been replaced.
    """
    run: list[tuple[Part, RecordTable | BadFile]] = []
    shape: object = None
    for part in parts:
        try:
            table: RecordTable | BadFile = inspect(part.path, reading)
        except BadFile as error:
            table = error
        own = None if isinstance(table, BadFile) else _shape(part, table)
        if own and shape and own != shape:
            yield _together(run, dataset)
            run, shape = [], None
        run.append((part, table))
        shape = own or shape
    yield _together(run, dataset)


def _together(run: Sequence[tuple[Part, RecordTable | BadFile]], dataset: str) -> _Alike:
    return _Alike(tuple(part for part, _ in run), tuple(table for _, table in run), dataset)


def _shape(part: Part, table: RecordTable) -> tuple[object, ...]:
    """What is equal of tables that are judged together."""
    if table.kind != "parquet":
        return (part.path,)
    return tuple(
        sorted((str(key), str(value)) for key, value in some.items())
        for some in (table.columns, table.kinds, table.defaults)
    )


def _one_error(damaged: Sequence[BadFile]) -> BadFile:
    """The first of what is damaged; it names the others."""
    first = damaged[0]
    if len(damaged) > 1:
        others = ", ".join(error.file for error in damaged[1:])
        first.next_step = f"{first.next_step} Damaged too: {others}.".strip()
    return first


def _batches(
    parts: Sequence[Part | RemotePart], most_bytes: int
) -> Iterator[list[Part | RemotePart]]:
    """Parts one after the other, as many together as are not too large."""
    batch: list[Part | RemotePart] = []
    size = 0
    for part in parts:
        if batch and size + part.size > most_bytes:
            yield batch
            batch, size = [], 0
        batch.append(part)
        size += part.size
    if batch:
        yield batch
