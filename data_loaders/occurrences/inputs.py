"""What a person names on the command line, files, folders and globs, as sources with parts."""

import glob
import hashlib
import tempfile
import zipfile
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from data_loaders.archives import is_zip
from data_loaders.build import file_sha256
from data_loaders.darwin_core import DESCRIPTOR
from data_loaders.occurrences.tables import AS_WRITTEN, Reading, RecordTable, inspect, is_parquet
from service.errors import BadFile

_TABLE_ENDINGS = (".csv", ".tsv", ".txt", ".tab", ".parquet", ".gz", ".zip")
_WILD = ("*", "?", "[")


@dataclass(frozen=True, slots=True)
class Part:
    """One file of a source."""

    path: Path
    sha256: str


@dataclass(frozen=True, slots=True)
class Source:
    """A file, or the files of a folder that make one table.

    Attributes:
        sha256: of the content; of a folder whatever its files are called and in what order.
    """

    name: str
    sha256: str
    parts: tuple[Part, ...]
    first: RecordTable


def find_sources(
    names: Sequence[Path | str], stack: ExitStack, reading: Reading = AS_WRITTEN
) -> list[Source]:
    """The sources that names stand for, in the order given.

    A folder with a ``meta.xml`` is an unpacked archive. Of another folder, and of a glob, the
    Parquet and text files together are one source, and each zip file is one of its own.

    Args:
        stack: closes temporary files when the load is over.

    Raises:
        BadFile: a name leads to nothing that is read.
    """
    return [source for name in names for source in _of_name(name, stack, reading)]


def _of_name(name: Path | str, stack: ExitStack, reading: Reading) -> list[Source]:
    text = str(name)
    path = Path(name)
    if "://" in text:
        raise BadFile(
            text,
            "addresses are read with an engine that reaches them.",
            next_step="Fetch the files and name the folder.",
        )
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
    table = inspect(path, reading)
    sha256 = file_sha256(path)
    return Source(name, sha256, (Part(path, sha256),), table)


def _of_files(name: str, files: list[Path], reading: Reading) -> list[Source]:
    zips = [path for path in files if is_zip(path)]
    plain = [path for path in files if path not in set(zips)]
    if not files:
        raise BadFile(
            name,
            "no table of records in it.",
            next_step=f"Tables end in one of {', '.join(_TABLE_ENDINGS)}, or begin as Parquet"
            " does.",
        )
    sources = []
    if plain:
        parts = tuple(Part(path, file_sha256(path)) for path in plain)
        joined = "\n".join(sorted(part.sha256 for part in parts))
        sha256 = parts[0].sha256 if len(parts) == 1 else hashlib.sha256(joined.encode()).hexdigest()
        shown = name if len(parts) > 1 else plain[0].name
        sources.append(Source(shown, sha256, parts, inspect(plain[0], reading)))
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
