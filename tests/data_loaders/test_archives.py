"""Archives and text from people one does not know."""

import gzip
import io
import random
import stat
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data_loaders.archives import LIMITS, Limits, is_gzip, is_zip, open_archive, open_data
from data_loaders.text_lines import text_lines
from service.errors import BadFile


def zip_with(
    path: Path, members: dict[str, bytes], compression: int = zipfile.ZIP_DEFLATED
) -> Path:
    with zipfile.ZipFile(path, "w", compression) as out:
        for name, content in members.items():
            out.writestr(name, content)
    return path


def read_all(path: Path, limits: Limits = LIMITS) -> bytes:
    with open_data(path, limits=limits) as stream:
        return stream.read()


def test_members_are_read_by_name_and_folders_left_out(tmp_path: Path) -> None:
    path = zip_with(
        tmp_path / "a.zip",
        {"meta.xml": b"<archive/>", "data/": b"", "data/occurrence.txt": b"a\tb\n"},
    )
    with open_archive(path) as archive:
        assert archive.names == ("meta.xml", "data/occurrence.txt")
        assert archive.read("meta.xml") == b"<archive/>"
        assert archive.size_bytes("data/occurrence.txt") == 4
        archive.unpack("data/occurrence.txt", tmp_path / "out.txt")
    assert (tmp_path / "out.txt").read_bytes() == b"a\tb\n"


@pytest.mark.parametrize(
    "name",
    [
        "../evil.txt",
        "data/../../evil.txt",
        "/etc/evil.txt",
        "C:/evil.txt",
        "C:evil.txt",
        "a\\..\\evil.txt",
        "a\nb.txt",
    ],
)
def test_a_name_that_leads_outside_the_archive_is_refused(tmp_path: Path, name: str) -> None:
    path = zip_with(tmp_path / "a.zip", {"good.txt": b"x", name: b"x"})
    with pytest.raises(BadFile, match="leads outside the archive"), open_archive(path):
        pass


def test_a_name_cut_by_a_nul_is_refused(tmp_path: Path) -> None:
    path = zip_with(tmp_path / "a.zip", {"good.txtZevil": b"x"})
    path.write_bytes(path.read_bytes().replace(b"good.txtZevil", b"good.txt\x00evil"))
    with pytest.raises(BadFile, match="not a plain name"), open_archive(path):
        pass


def test_a_link_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as out:
        link = zipfile.ZipInfo("occurrence.txt")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        out.writestr(link, "/etc/passwd")
    with pytest.raises(BadFile, match="is a link"), open_archive(path):
        pass


@pytest.mark.parametrize("name", ["inner.zip", "inner.ZIP", "inner.tar.gz", "inner.7z"])
def test_an_archive_inside_an_archive_is_refused_by_its_name(tmp_path: Path, name: str) -> None:
    path = zip_with(tmp_path / "a.zip", {name: b"x"})
    with pytest.raises(BadFile, match="archive inside the archive"), open_archive(path):
        pass


def test_an_archive_inside_an_archive_is_refused_by_its_content(tmp_path: Path) -> None:
    inner = zip_with(tmp_path / "inner.zip", {"x.txt": b"x"}).read_bytes()
    path = zip_with(tmp_path / "a.zip", {"occurrence.txt": inner})
    with pytest.raises(BadFile, match="archive inside the archive"):
        read_all(path)
    twice = tmp_path / "twice.gz"
    twice.write_bytes(gzip.compress(inner))
    with pytest.raises(BadFile, match="archive inside the archive"):
        read_all(twice)


def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    path = zip_with(tmp_path / "bomb.zip", {"occurrence.txt": b"0" * (32 << 20)})
    with pytest.raises(BadFile, match="200 times its compressed size"), open_archive(path):
        pass


def test_a_zip_bomb_that_understates_its_size_is_refused_while_it_is_unpacked(
    tmp_path: Path,
) -> None:
    path = zip_with(tmp_path / "bomb.zip", {"occurrence.txt": b"0" * (32 << 20)})
    stated, real = (32 << 20).to_bytes(4, "little"), path.read_bytes()
    path.write_bytes(real.replace(stated, (1000).to_bytes(4, "little")))
    with pytest.raises(BadFile), open_archive(path) as archive:
        archive.unpack("occurrence.txt", tmp_path / "out.txt")
    assert sum(path.stat().st_size for path in tmp_path.glob("out.txt")) < 1 << 20


def test_a_gzip_bomb_is_refused_while_it_is_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "bomb.tsv.gz"
    path.write_bytes(gzip.compress(b"0" * (64 << 20)))
    with pytest.raises(BadFile, match="200 times its compressed size"):
        read_all(path)


def test_more_bytes_than_allowed_are_refused_at_any_density(tmp_path: Path) -> None:
    noise = random.Random(1).randbytes(200_000)
    limits = Limits(total_bytes=100_000)
    packed = tmp_path / "a.gz"
    packed.write_bytes(gzip.compress(noise))
    for path in (packed, zip_with(tmp_path / "a.zip", {"a.txt": noise})):
        with pytest.raises(BadFile, match="more than 100,000 bytes"):
            read_all(path, limits)


def test_members_that_share_their_bytes_are_refused(tmp_path: Path) -> None:
    noise = random.Random(2).randbytes(50_000)
    path = zip_with(tmp_path / "a.zip", {"a.txt": noise, "b.txt": b"b"}, zipfile.ZIP_STORED)
    content = bytearray(path.read_bytes())
    # The directory entry of b.txt is given the size and the place of a.txt.
    entry = content.rindex(b"b.txt") - 46
    first = content.rindex(b"a.txt") - 46
    content[entry + 16 : entry + 28] = content[first + 16 : first + 28]
    content[entry + 42 : entry + 46] = content[first + 42 : first + 46]
    path.write_bytes(content)
    with pytest.raises(BadFile), open_archive(path) as archive:
        archive.read("b.txt")


@pytest.mark.parametrize("keep", [0.3, 0.9])
def test_a_file_cut_short_is_an_error_not_a_short_table(tmp_path: Path, keep: float) -> None:
    text = b"".join(b"%d\t%d\n" % (n, n * n) for n in range(50_000))
    for path, packed in (
        (tmp_path / "a.gz", gzip.compress(text)),
        (tmp_path / "a.zip", zip_with(tmp_path / "whole.zip", {"a.txt": text}).read_bytes()),
    ):
        path.write_bytes(packed[: int(len(packed) * keep)])
        with pytest.raises(BadFile):
            read_all(path)


def test_a_damaged_member_is_an_error(tmp_path: Path) -> None:
    path = zip_with(
        tmp_path / "a.zip", {"a.txt": random.Random(3).randbytes(5_000)}, zipfile.ZIP_STORED
    )
    content = bytearray(path.read_bytes())
    content[2_000] ^= 0xFF
    path.write_bytes(content)
    with pytest.raises(BadFile, match="damaged or cut short"):
        read_all(path)


def test_files_are_told_apart_by_content_not_by_name(tmp_path: Path) -> None:
    zipped = zip_with(tmp_path / "download.csv", {"a.txt": b"in a zip"})
    packed = tmp_path / "download.zip"
    packed.write_bytes(gzip.compress(b"in a gzip"))
    plain = tmp_path / "download.gz"
    plain.write_bytes(b"plain")
    assert (is_zip(zipped), is_gzip(packed), is_zip(plain) or is_gzip(plain)) == (True, True, False)
    assert [read_all(path) for path in (zipped, packed, plain)] == [
        b"in a zip",
        b"in a gzip",
        b"plain",
    ]


def test_a_zip_of_several_tables_is_not_guessed_at(tmp_path: Path) -> None:
    path = zip_with(tmp_path / "a.zip", {"a.txt": b"a", "b.txt": b"b"})
    with pytest.raises(BadFile, match="holds 2 files"):
        read_all(path)


def lines(content: bytes, **options: object) -> list[str]:
    return list(text_lines(io.BytesIO(content), file="table.txt", **options))  # type: ignore[arg-type]


def test_a_nul_byte_is_refused_with_its_line() -> None:
    with pytest.raises(BadFile, match="line 3: a NUL byte"):
        lines(b"a\nb\nc\x00d\n")


def test_bytes_of_another_encoding_are_refused_unless_it_is_stated() -> None:
    latin = "Ériogonum\n".encode("latin-1")
    with pytest.raises(BadFile, match="not utf-8 text"):
        lines(latin)
    assert lines(latin, encoding="ISO-8859-1") == ["Ériogonum"]


def test_an_encoding_that_is_none_is_refused() -> None:
    for encoding in ("no-such-encoding", "zlib", "rot13"):
        with pytest.raises(BadFile, match="is not known"):
            lines(b"a\n", encoding=encoding)


class EndlessLine(io.RawIOBase):
    """Two gigabytes without a line end, made while they are read."""

    def __init__(self) -> None:
        self.given_bytes = 0

    def read(self, size: int = -1) -> bytes:
        size = min(size if size >= 0 else 1 << 20, (2 << 30) - self.given_bytes)
        self.given_bytes += size
        return b"x" * size


def test_a_line_without_an_end_is_refused_long_before_it_fills_the_memory() -> None:
    endless = EndlessLine()
    with pytest.raises(BadFile, match="line 1: a line longer than"):
        for _ in text_lines(cast(BinaryIO, endless), file="table.txt"):
            pass
    assert endless.given_bytes < 16 << 20


@settings(max_examples=50)
@given(
    st.lists(
        st.text(st.characters(codec="utf-8", exclude_characters="\x00\r\n\ufeff"), max_size=12),
        max_size=20,
    ),
    st.sampled_from(["\n", "\r\n"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_lines_come_back_as_they_went_in(content: list[str], end: str, encoding: str) -> None:
    written = "".join(line + end for line in content).encode(encoding)

    def dribble() -> Iterator[bytes]:
        for place in range(0, len(written), 3):
            yield written[place : place + 3]

    class Dribbling(io.RawIOBase):
        pieces = dribble()

        def read(self, size: int = -1) -> bytes:
            return next(self.pieces, b"")

    stated = "utf-16" if encoding == "utf-16" else "utf-8"
    assert list(text_lines(cast(BinaryIO, Dribbling()), file="t", encoding=stated)) == content
