"""What a live load has fetched so far, on disk, so that it goes on after a kill."""

import json
import os
import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypedDict

from data_loaders.occurrences.datasets import DatasetText
from data_loaders.occurrences.live_api import Page


class _PageLine(TypedDict):
    query: int
    turn: int
    offset: int
    total: int
    end: bool
    records: list[Mapping[str, str]]


@dataclass
class QueryState:
    """How far one query has come.

    Attributes:
        turn: how often it was begun; it is begun again when the total changes under way.
        offset: of the next page.
        total: as the last page had it; None before the first.
    """

    turn: int = 0
    offset: int = 0
    total: int | None = None
    done: bool = False
    keys: set[str] = field(default_factory=set)


class Journal:
    """A file of lines, each written whole and flushed to the disk before the next page is asked
    for.

    A line that a kill cut short is dropped on opening.
    """

    def __init__(self, path: Path, queries: int) -> None:
        self._path = path
        self._lock = threading.Lock()
        self.states = [QueryState() for _ in range(queries)]
        self.datasets: dict[str, DatasetText] = {}
        self._replay()
        self._stream = path.open("ab")

    def add_page(self, query: int, page: Page) -> None:
        """Take note of a page."""
        state = self.states[query]
        line: _PageLine = {
            "query": query,
            "turn": state.turn,
            "offset": page.offset,
            "total": page.total,
            "end": page.end,
            "records": list(page.records),
        }
        self._write({"page": line})
        self._take(line)

    def begin_again(self, query: int) -> None:
        """Ask a query anew from its first page; what it gave so far is kept."""
        self._write({"again": query})
        self._restart(query)

    def add_dataset(self, key: str, text: DatasetText) -> None:
        """Take note of a data set's title and citation."""
        self._write({"dataset": [key, text.title, text.citation, text.licence, text.url]})
        self.datasets[key] = text

    def records(self) -> Iterator[Mapping[str, str]]:
        """Every record once, in the order of queries and pages; the newest, where a query was
        asked through again.
        """
        pages: list[tuple[int, int, int, int]] = []
        place = 0
        with self._path.open("rb") as stream:
            for line in stream:
                if line.startswith(b'{"page"'):
                    page: _PageLine = json.loads(line)["page"]
                    pages.append((page["query"], -page["turn"], page["offset"], place))
                place += len(line)
            given: set[tuple[int, str]] = set()
            for query, _, _, start in sorted(pages):
                stream.seek(start)
                for record in json.loads(stream.readline())["page"]["records"]:
                    key = record.get("key", "")
                    if not key or (query, key) not in given:
                        given.add((query, key))
                        yield record

    def dataset_keys(self) -> Sequence[str]:
        """Data sets that the records name."""
        return sorted({key for record in self.records() if (key := record.get("datasetKey"))})

    def close(self) -> None:
        """Leave the file for another time."""
        self._stream.close()

    def remove(self) -> None:
        """The load is through."""
        self.close()
        self._path.unlink(missing_ok=True)

    def _write(self, line: Mapping[str, object]) -> None:
        content = json.dumps(line, ensure_ascii=False).encode() + b"\n"
        with self._lock:
            self._stream.write(content)
            self._stream.flush()
            os.fsync(self._stream.fileno())

    def _replay(self) -> None:
        if not self._path.exists():
            return
        good_bytes = 0
        with self._path.open("rb") as stream:
            for content in stream:
                try:
                    line = json.loads(content)
                except ValueError:
                    break
                if not content.endswith(b"\n"):
                    break
                good_bytes += len(content)
                if "page" in line:
                    self._take(line["page"])
                elif "again" in line:
                    self._restart(line["again"])
                else:
                    key, title, citation, licence, url = line["dataset"]
                    self.datasets[key] = DatasetText(title, citation, licence, key, url)
        os.truncate(self._path, good_bytes)

    def _take(self, page: _PageLine) -> None:
        state = self.states[page["query"]]
        state.keys |= {record["key"] for record in page["records"] if "key" in record}
        state.offset = page["offset"] + len(page["records"])
        state.total = page["total"]
        state.done = page["end"] or state.offset >= page["total"]

    def _restart(self, query: int) -> None:
        state = self.states[query]
        state.turn, state.offset, state.total, state.done = state.turn + 1, 0, None, False
