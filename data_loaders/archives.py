"""Opening zip and gzip files from people one does not know.

Refused with a :class:`service.errors.BadFile` that names the file and the member: names that lead
outside the archive, links, encrypted members, archives inside archives, more bytes than the limits
allow (in all, or against the compressed size).

    with open_archive(path) as archive:
        if "meta.xml" in archive:
            descriptor = archive.read("meta.xml")
        with archive.open("occurrence.txt") as stream:
            for line in text_lines(stream, file=f"{path.name}/occurrence.txt"):
                ...

    with open_data(path) as stream:      # plain, gzip, or a zip that holds one data file
        ...
"""

import contextlib
import gzip
import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, BinaryIO, cast

from service.errors import BadFile

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

_CHUNK_BYTES = 1 << 20
_ARCHIVE_ENDINGS = (".zip", ".gz", ".tgz", ".tar", ".7z", ".rar", ".bz2", ".xz", ".zst")
_ARCHIVE_STARTS = (
    b"PK\x03\x04",
    b"PK\x05\x06",
    b"\x1f\x8b",
    b"7z\xbc\xaf\x27\x1c",
    b"Rar!",
    b"BZh",
    b"\xfd7zXZ\x00",
)


@dataclass(frozen=True, slots=True)
class Limits:
    """What an input may be. Common practice, no source.

    Attributes:
        total_bytes: unpacked, all members together.
        ratio: unpacked to compressed size; text tables rarely pass 30, deflate cannot pass 1032.
        ratio_from_bytes: below this unpacked size the ratio is not looked at.
        line_characters: of one line of text.
    """

    total_bytes: int = 512 << 30
    ratio: float = 200.0
    ratio_from_bytes: int = 8 << 20
    members: int = 100_000
    line_characters: int = 4 << 20
    small_member_bytes: int = 64 << 20


LIMITS = Limits()


class _Guarded(io.RawIOBase):
    """A decompressing stream that stops when it grows past the limits."""

    def __init__(
        self, inner: BinaryIO, *, file: str, compressed_bytes: int, limits: Limits
    ) -> None:
        self._inner = inner
        self._file = file
        self._compressed_bytes = max(1, compressed_bytes)
        self._limits = limits
        self._read_bytes = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: "WriteableBuffer") -> int:
        view = memoryview(buffer).cast("B")
        try:
            data = self._inner.read(len(view))
        except (
            zipfile.BadZipFile,
            gzip.BadGzipFile,
            zlib.error,
            EOFError,
            struct.error,
            OSError,
        ) as error:
            raise BadFile(
                self._file,
                f"the compressed data is damaged or cut short ({error}).",
                next_step="Fetch it again.",
            ) from error
        view[: len(data)] = data
        self._read_bytes += len(data)
        self._check()
        return len(data)

    def _check(self) -> None:
        if self._read_bytes > self._limits.total_bytes:
            raise _too_large(self._file, self._limits)
        if (
            self._read_bytes > self._limits.ratio_from_bytes
            and self._read_bytes > self._limits.ratio * self._compressed_bytes
        ):
            raise _too_dense(self._file, self._limits)

    def close(self) -> None:
        if not self.closed:
            self._inner.close()
        super().close()


class Archive:
    """The members of one zip file, every name checked on opening. Directories are left out."""

    def __init__(self, path: Path, zipped: zipfile.ZipFile, limits: Limits) -> None:
        self.path = path
        self._zip = zipped
        self._limits = limits
        self._members = _checked_members(path, zipped, limits)

    @property
    def names(self) -> tuple[str, ...]:
        """Member names as written, in the order of the archive."""
        return tuple(self._members)

    def __contains__(self, name: object) -> bool:
        return name in self._members

    def size_bytes(self, name: str) -> int:
        """Unpacked size that the archive states for a member."""
        return self._member(name).file_size

    @contextmanager
    def open(self, name: str) -> Iterator[BinaryIO]:
        """Bytes of a member, guarded by the limits.

        Raises:
            BadFile: no such member; it is itself an archive; it is damaged; it grows past the
                limits.
        """
        member = self._member(name)
        place = f"{self.path.name}/{name}"
        try:
            inner = self._zip.open(member)
        except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError) as error:
            raise BadFile(
                place, f"the member cannot be opened ({error}).", next_step="Fetch it again."
            ) from error
        guarded = _Guarded(
            cast(BinaryIO, inner),
            file=place,
            compressed_bytes=member.compress_size,
            limits=self._limits,
        )
        with io.BufferedReader(guarded, _CHUNK_BYTES) as stream:
            if stream.peek(8).startswith(_ARCHIVE_STARTS):
                raise _nested(self.path, name)
            yield cast(BinaryIO, stream)

    def read(self, name: str) -> bytes:
        """All bytes of a small member, such as ``meta.xml``."""
        with self.open(name) as stream:
            content = stream.read(self._limits.small_member_bytes + 1)
        if len(content) > self._limits.small_member_bytes:
            raise BadFile(
                f"{self.path.name}/{name}",
                f"it is larger than {self._limits.small_member_bytes:,} bytes unpacked.",
            )
        return content

    def unpack(self, name: str, target: Path) -> None:
        """Write one member to ``target``, a path that the caller chose."""
        with self.open(name) as stream, target.open("wb") as out:
            while chunk := stream.read(_CHUNK_BYTES):
                out.write(chunk)

    def _member(self, name: str) -> zipfile.ZipInfo:
        if name not in self._members:
            raise BadFile(
                self.path.name,
                f"it holds no {name}.",
                next_step=f"It holds: {', '.join(list(self._members)[:8]) or 'nothing'}.",
            )
        return self._members[name]


@contextmanager
def open_archive(path: Path, *, limits: Limits = LIMITS) -> Iterator[Archive]:
    """Open a zip file.

    Raises:
        BadFile: not a zip file, or not one that may be opened.
    """
    try:
        zipped = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise BadFile(
            path.name, f"it cannot be read as a zip file ({error}).", next_step="Fetch it again."
        ) from error
    with zipped:
        yield Archive(path, zipped, limits)


_REFUSED: tuple[tuple[str, bytes, str], ...] = (
    ("an Avro file", b"Obj\x01", "Convert it to Parquet or CSV and load that."),
    ("a 7-Zip archive", b"7z\xbc\xaf\x27\x1c", "Unpack it and load the files in it."),
    ("a RAR archive", b"Rar!", "Unpack it and load the files in it."),
    ("a bzip2 file", b"BZh", "Unpack it (bunzip2) and load the file in it."),
    ("an xz file", b"\xfd7zXZ\x00", "Unpack it (unxz) and load the file in it."),
    ("a zstd file", b"\x28\xb5\x2f\xfd", "Unpack it (unzstd) and load the file in it."),
)
_TAR_MARK, _TAR_MARK_AT = b"ustar", 257
_TAR_STEP = "Unpack it (tar -xf) and load the files in it, or the folder."


def refuse_by_name(path: Path) -> None:
    """Refuse a format that people have and that is not read, by its name, with what to do.

    Raises:
        BadFile: an Avro file, TopoJSON, a tar archive (packed or not), or another archive.
    """
    if path.is_dir():
        return
    with _reading(path) as stream:
        start = stream.read(4096)
    if start.startswith(b"\x1f\x8b"):
        with contextlib.suppress(OSError, EOFError, zlib.error), gzip.open(path) as inside:
            start = inside.read(4096)
    for what, begin, step in _REFUSED:
        if start.startswith(begin):
            raise BadFile(path.name, f"this is {what}, which is not read.", next_step=step)
    if start[_TAR_MARK_AT:].startswith(_TAR_MARK):
        raise BadFile(path.name, "this is a tar archive, which is not read.", next_step=_TAR_STEP)
    head = b"".join(start.split())
    if path.suffix.casefold() == ".topojson" or b'"type":"Topology"' in head:
        raise BadFile(
            path.name,
            "this is TopoJSON, which is not read.",
            next_step=f"Convert it: ogr2ogr {path.stem}.geojson {path.name}.",
        )


@contextmanager
def _reading(path: Path) -> Iterator[BinaryIO]:
    try:
        stream = path.open("rb", buffering=_CHUNK_BYTES)
    except OSError as error:
        raise BadFile(path.name, f"it cannot be opened ({error.strerror}).") from error
    with stream:
        yield stream


def is_zip(path: Path) -> bool:
    """By content, not by name."""
    return _starts_with(path, b"PK\x03\x04", b"PK\x05\x06")


def is_gzip(path: Path) -> bool:
    """By content, not by name."""
    return _starts_with(path, b"\x1f\x8b")


@contextmanager
def open_data(path: Path, *, limits: Limits = LIMITS) -> Iterator[BinaryIO]:
    """Bytes of a data file: plain, gzip, or a zip that holds one file.

    Raises:
        BadFile: it cannot be opened, or a zip holds none or several files.
    """
    if is_zip(path):
        with open_archive(path, limits=limits) as archive:
            if len(archive.names) != 1:
                raise BadFile(
                    path.name,
                    f"it holds {len(archive.names)} files where one table is expected.",
                    next_step="Unpack it and name the table.",
                )
            with archive.open(archive.names[0]) as stream:
                yield stream
    elif is_gzip(path):
        inner = gzip.open(path)  # noqa: SIM115 - the buffered reader below closes it
        guarded = _Guarded(
            cast(BinaryIO, inner),
            file=path.name,
            compressed_bytes=path.stat().st_size,
            limits=limits,
        )
        with io.BufferedReader(guarded, _CHUNK_BYTES) as stream:
            if stream.peek(8).startswith(_ARCHIVE_STARTS):
                raise _nested(path, "its content")
            yield cast(BinaryIO, stream)
    else:
        with _reading(path) as plain:
            yield plain


def _starts_with(path: Path, *starts: bytes) -> bool:
    with _reading(path) as stream:
        return stream.read(8).startswith(starts)


def _checked_members(
    path: Path, zipped: zipfile.ZipFile, limits: Limits
) -> dict[str, zipfile.ZipInfo]:
    entries = zipped.infolist()
    if len(entries) > limits.members:
        raise BadFile(path.name, f"it holds more than {limits.members:,} members.")
    members: dict[str, zipfile.ZipInfo] = {}
    for entry in entries:
        _check_name(path, entry.orig_filename)
        if entry.is_dir() or _is_litter(entry.filename):
            continue
        if entry.filename in members:
            raise BadFile(path.name, f"it holds {entry.filename!r} twice.")
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise BadFile(path.name, f"its member {entry.filename!r} is a link.")
        if entry.flag_bits & 0x1:
            raise BadFile(
                path.name,
                f"its member {entry.filename!r} is encrypted.",
                next_step="Give it unencrypted.",
            )
        if entry.filename.lower().endswith(_ARCHIVE_ENDINGS):
            raise _nested(path, entry.filename)
        members[entry.filename] = entry
    _check_sizes(path, list(members.values()), limits)
    return members


_LITTER = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})


def _is_litter(name: str) -> bool:
    """What desktops put beside the files of a zip when a person makes it again."""
    parts = PurePosixPath(name).parts
    return "__MACOSX" in parts or parts[-1].startswith("._") or parts[-1] in _LITTER


def _check_name(path: Path, name: str) -> None:
    parts = PurePosixPath(name).parts
    absolute = name.startswith("/") or (len(name) > 1 and name[1] == ":")
    if (
        not name
        or absolute
        or ".." in parts
        or "\\" in name
        or any(ord(letter) < 32 for letter in name)
    ):
        raise BadFile(
            path.name,
            f"its member name {name!r} leads outside the archive or is not a plain name.",
            next_step="Do not use this file.",
        )


def _check_sizes(path: Path, members: list[zipfile.ZipInfo], limits: Limits) -> None:
    unpacked = sum(member.file_size for member in members)
    compressed = sum(member.compress_size for member in members)
    if unpacked > limits.total_bytes:
        raise _too_large(path.name, limits)
    if compressed > path.stat().st_size:
        raise BadFile(path.name, "its members overlap.", next_step="Do not use this file.")
    for member in members:
        if member.file_size > limits.ratio_from_bytes and member.file_size > limits.ratio * max(
            1, member.compress_size
        ):
            raise _too_dense(f"{path.name}/{member.filename}", limits)


def _too_large(file: str, limits: Limits) -> BadFile:
    return BadFile(file, f"it unpacks to more than {limits.total_bytes:,} bytes.")


def _too_dense(file: str, limits: Limits) -> BadFile:
    return BadFile(
        file,
        f"it unpacks to more than {limits.ratio:g} times its compressed size, which no table of"
        " records does.",
        next_step="Do not use this file; if it is good, unpack it and load the plain table.",
    )


def _nested(path: Path, name: str) -> BadFile:
    return BadFile(
        path.name,
        f"{name} is an archive inside the archive.",
        next_step="Unpack the outer one and load the inner.",
    )
