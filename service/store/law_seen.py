"""The law as it stood when somebody last asked what changed, in a small file beside the store."""

import gzip
import os
import zlib
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from service.regulation.law import ListVersion


@dataclass(frozen=True, slots=True)
class LawSeen:
    """The list versions in force on the day on which it was last asked."""

    on: date
    versions: tuple[ListVersion, ...]


_SEEN = TypeAdapter(LawSeen)


def law_seen_path(store: Path) -> Path:
    """The file of a store."""
    return store.with_name(f"{store.name}.law-seen.json.gz")


def read_law_seen(path: Path) -> LawSeen | None:
    """What was kept; None where nothing was, or what was kept is of another release or damaged."""
    try:
        return _SEEN.validate_json(gzip.decompress(path.read_bytes()))
    except (OSError, EOFError, zlib.error, ValidationError):
        return None


def keep_law_seen(path: Path, seen: LawSeen) -> None:
    """Keep it, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.draft")
    with draft.open("wb") as stream:
        stream.write(gzip.compress(_SEEN.dump_json(seen), mtime=0))
        stream.flush()
        os.fsync(stream.fileno())
    draft.replace(path)
