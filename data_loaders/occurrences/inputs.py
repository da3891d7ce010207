"""What a person names on the command line, files, folders, globs and addresses, as sources with
parts.
"""

import glob
import hashlib
import tempfile
import zipfile
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from data_loaders.archives import is_zip
from data_loaders.build import file_sha256
from data_loaders.darwin_core import DESCRIPTOR
from data_loaders.occurrences.addresses import Listed, Place, place_at
from data_loaders.occurrences.tables import AS_WRITTEN, Reading, inspect, is_parquet
from service.errors import BadFile
from service.settings import is_address

_TABLE_ENDINGS = (".csv", ".tsv", ".txt", ".tab", ".parquet", ".gz", ".zip")
_WILD = ("*", "?", "[")


@dataclass(frozen=True, slots=True)
class Part:
    """One file of a source."""

    path: Path
    sha256: str

    @property
    def size(self) -> int:
        return self.path.stat().st_size


@dataclass(frozen=True, slots=True)
class RemotePart:
    """One file of a source, where it lies at an address."""

    place: Place
    listed: Listed

    @property
    def size(self) -> int:
        return self.listed.size or 0


@dataclass(frozen=True, slots=True)
class Source:
    """A file, or the files of a folder or below an address that make one table.

    Attributes:
        sha256: of the content; of a folder whatever its files are called and in what order. Empty
            where the content is not here yet.
        notes: what a person should know of what is read.
    """

    name: str
    sha256: str
    parts: tuple[Part | RemotePart, ...]
    notes: tuple[str, ...] = ()


def joined_sha256(digests: Sequence[str]) -> str:
    """Of several parts together, in whatever order."""
    if len(digests) == 1:
        return digests[0]
    return hashlib.sha256("\n".join(sorted(digests)).encode()).hexdigest()


def find_sources(
    names: Sequence[Path | str], stack: ExitStack, reading: Reading = AS_WRITTEN
) -> list[Source]:
    """The sources that names stand for, in the order given.

    A folder with a ``meta.xml`` is an unpacked archive. Of another folder, and of a glob, the
    Parquet and text files together are one source, and each zip file is one of its own. An address
    of ``https://`` is one file, one of ``s3://`` a file, a prefix or a glob.

    Args:
        stack: closes temporary files when the load is over.

    Raises:
        BadFile: a name leads to nothing that is read.
        BadRequest: an address is of no kind that is read.
    """
    return [source for name in names for source in _of_name(name, stack, reading)]


def _of_name(name: Path | str, stack: ExitStack, reading: Reading) -> list[Source]:
    text = str(name)
    path = Path(name)
    if is_address(text):
        return _of_address(text)
    if path.is_dir():
        if (path / DESCRIPTOR).is_file():
            return [_single(_zipped(path, stack), path.name, reading)]
        return _of_files(f"{path.name}/", _files_under(path), reading)
    if not path.exists() and any(sign in text for sign in _WILD):
        found = sorted(map(Path, glob.glob(text, recursive=True)))  # noqa: PTH207 - any root
        files = [inner for one in found for inner in (_files_under(one) if one.is_dir() else [one])]
        return _of_files(text, files, reading)
    return [_single(path, path.name, reading)]


def _single(path: Path, name: str, reading: Reading) -> Source:
    inspect(path, reading)  # what cannot be read is said before anything is begun
    sha256 = file_sha256(path)
    return Source(name, sha256, (Part(path, sha256),))


def _of_address(address: str) -> list[Source]:
    place = place_at(address)
    listed = place.parts()
    found = [one for one in listed if len(listed) == 1 or _is_table(one.shown)]
    if not found:
        raise _no_table(place.shown)
    passed_over = len(listed) - len(found)
    notes = (f"{passed_over:,} objects that are no tables passed over",) if passed_over else ()
    zips = [one for one in found if one.name.lower().endswith(".zip")]
    plain = tuple(RemotePart(place, one) for one in found if one not in zips)
    shown = plain[0].listed.shown if len(plain) == 1 else place.shown
    sources = [Source(shown, "", plain, notes)] if plain else []
    return [*sources, *(Source(one.shown, "", (RemotePart(place, one),)) for one in zips)]


def _is_table(shown: str) -> bool:
    """Whether an object is a table by its ending, or one of the unnamed parts of a table."""
    path = PurePosixPath(shown)
    of_parts = any(folder.suffix.lower() == ".parquet" for folder in path.parents)
    return path.name.lower().endswith(_TABLE_ENDINGS) or not path.suffix or of_parts


def _no_table(name: str) -> BadFile:
    return BadFile(
        name,
        "no table of records in it.",
        next_step=f"Tables end in one of {', '.join(_TABLE_ENDINGS)}, or begin as Parquet does.",
    )


def _of_files(name: str, files: list[Path], reading: Reading) -> list[Source]:
    zips = [path for path in files if is_zip(path)]
    plain = [path for path in files if path not in set(zips)]
    if not files:
        raise _no_table(name)
    sources = []
    if plain:
        inspect(plain[0], reading)
        parts = tuple(Part(path, file_sha256(path)) for path in plain)
        shown = name if len(parts) > 1 else plain[0].name
        sources.append(Source(shown, joined_sha256([part.sha256 for part in parts]), parts))
    return [*sources, *(_single(path, path.name, reading) for path in zips)]


def _files_under(folder: Path) -> list[Path]:
    """Tables under a folder: those by their ending, and Parquet whatever it is called."""
    return [
        path
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and not path.name.startswith((".", "_"))
        and path.stat().st_size
        and (path.name.lower().endswith(_TABLE_ENDINGS) or is_parquet(path))
    ]


def _zipped(folder: Path, stack: ExitStack) -> Path:
    """An unpacked archive as the archive that it was."""
    inside = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="reedgate-")))
    target = inside / f"{folder.name}.zip"
    with zipfile.ZipFile(target, "w") as archive:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                entry = zipfile.ZipInfo(path.relative_to(folder).as_posix())
                with path.open("rb") as stream, archive.open(entry, "w", force_zip64=True) as out:
                    while piece := stream.read(1 << 20):
                        out.write(piece)
    return target
