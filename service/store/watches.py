"""Watches in a small file beside the store, for the store itself is never written to by the
service.
"""

import contextlib
import fcntl
import os
from collections.abc import Iterator
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from service.errors import NotFound, StoreError
from service.values.watches import Watch

_WATCHES = TypeAdapter(dict[str, Watch])


class WatchesUnreadable(StoreError):
    """The file of the watches cannot be used."""

    title = "The watches cannot be read"


def no_such_watch(name: str) -> NotFound:
    """No watch has the name."""
    return NotFound(f"No watch has the name {name!r}.", next_step="See: reedgate watch list.")


def watches_path(store: Path) -> Path:
    """The file of the watches of a store."""
    return store.with_name(f"{store.name}.watches.json")


class WatchFile:
    """The watches of a store; written whole or not at all, one writer at a time."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def all(self) -> tuple[Watch, ...]:
        """Every watch, by name.

        Raises:
            WatchesUnreadable: the file is damaged or may not be read.
        """
        found = self._read()
        return tuple(found[name] for name in sorted(found))

    def get(self, name: str) -> Watch:
        """A watch.

        Raises:
            NotFound: no watch has the name.
        """
        return _present(self._read(), name)

    def put(self, watch: Watch) -> None:
        """Keep a watch, in place of one of the same name."""
        with self._changing() as watches:
            watches[watch.name] = watch

    def remove(self, name: str) -> None:
        """Take a watch away.

        Raises:
            NotFound: no watch has the name.
        """
        with self._changing() as watches:
            _present(watches, name)
            del watches[name]

    def _read(self) -> dict[str, Watch]:
        try:
            return _WATCHES.validate_json(self.path.read_bytes())
        except FileNotFoundError:
            return {}
        except (OSError, ValidationError) as error:
            raise WatchesUnreadable(
                f"The file of the watches, {self.path.name}, cannot be read.",
                next_step="Put back a copy of it, or remove it and add the watches again.",
            ) from error

    @contextlib.contextmanager
    def _changing(self) -> Iterator[dict[str, Watch]]:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with self.path.with_name(f".{self.path.name}.lock").open("w") as stream:
            fcntl.flock(stream, fcntl.LOCK_EX)
            watches = self._read()
            yield watches
            draft = self.path.with_name(f".{self.path.name}.draft")
            descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(descriptor, "wb") as written:
                written.write(_WATCHES.dump_json(watches))
                written.flush()
                os.fsync(written.fileno())
            draft.replace(self.path)


def _present(watches: dict[str, Watch], name: str) -> Watch:
    if name not in watches:
        raise no_such_watch(name)
    return watches[name]
