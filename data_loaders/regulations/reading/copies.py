"""Copies of official documents by their hash, and what is known of each address."""

import hashlib
import json
import os
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path

from data_loaders.regulations.reading.fetch import Known
from service.errors import BadFile


@dataclass(frozen=True, slots=True)
class KeptCopy:
    """The latest copy of an address.

    Attributes:
        fetched_on: ISO day on which it was last seen, changed or not.
    """

    sha256: str
    file: str
    charset: str
    etag: str
    last_modified: str
    fetched_on: str

    @property
    def known(self) -> Known:
        return Known(self.etag, self.last_modified)


class Copies:
    """A folder of documents named by their SHA-256, with an index by address."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._index_path = folder / "index.json"

    def latest(self, url: str) -> KeptCopy | None:
        """The latest copy of an address, where it is still there and sound."""
        row = self._index().get(url)
        if row is None:
            return None
        copy = KeptCopy(**row)
        path = self.folder / copy.file
        if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != copy.sha256:
            return None
        return copy

    def content(self, copy: KeptCopy) -> bytes:
        return (self.folder / copy.file).read_bytes()

    def keep(
        self, url: str, content: bytes, ending: str, known: Known, charset: str, day: str
    ) -> KeptCopy:
        """Keep a document, and that it is the latest of its address."""
        digest = hashlib.sha256(content).hexdigest()
        file = f"{digest[:2]}/{digest}{ending}"
        path = self.folder / file
        if not path.is_file():
            _write(path, content)
        copy = KeptCopy(digest, file, charset, known.etag, known.last_modified, day)
        self._put(url, copy)
        return copy

    def seen_again(self, url: str, copy: KeptCopy, day: str) -> None:
        """Note that an address still has the copy kept."""
        self._put(url, KeptCopy(**{**asdict(copy), "fetched_on": day}))

    def _put(self, url: str, copy: KeptCopy) -> None:
        index = self._index()
        index[url] = asdict(copy)
        _write(self._index_path, json.dumps(index, indent=1, sort_keys=True).encode())

    def _index(self) -> dict[str, dict[str, str]]:
        try:
            found = json.loads(self._index_path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        except (OSError, ValueError) as error:
            raise BadFile(
                self._index_path.name,
                "the index of the documents cannot be read.",
                next_step="Remove it; the documents are then fetched anew.",
            ) from error
        return dict(found)


def _write(path: Path, content: bytes) -> None:
    """Whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".new-")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
