"""Files made to hurt: a clear error that names the place, and the store as it was."""

import gzip
import time
import tracemalloc
import zipfile
from pathlib import Path

import pytest

from data_loaders.build import file_sha256
from data_loaders.occurrences import load_occurrences
from service.errors import BadFile
from service.store.database import Build
from tests.data_loaders.occurrences.files import (
    EML,
    record,
    tsv_text,
    write_archive,
    write_parquet,
    write_tsv,
)
from tests.data_loaders.occurrences.stores import make_store
from tests.records import records_within

GOOD = [record(number) for number in range(50)]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "store.db")


def refuse(store: Path, path: Path, message: str) -> None:
    before = file_sha256(store)
    with pytest.raises(BadFile, match=message):
        load_occurrences(store, [path])
    assert file_sha256(store) == before
    assert not list(store.parent.glob("*draft*")) + list(store.parent.glob("*loading*"))


def write_lines(path: Path, change: dict[int, bytes]) -> Path:
    """A download with some of its lines (counted from 1) replaced."""
    lines = tsv_text(GOOD).encode().splitlines(keepends=True)
    for number, line in change.items():
        lines[number - 1] = line
    path.write_bytes(b"".join(lines))
    return path


def test_a_column_count_that_changes_mid_file(tmp_path: Path, store: Path) -> None:
    short = write_lines(tmp_path / "short.tsv", {30: b"one\ttwo\n"})
    refuse(store, short, r"short\.tsv, line 30: 2 columns where the table has 20")
    joined = tsv_text(GOOD).encode().splitlines()[20]
    long = write_lines(tmp_path / "long.tsv", {21: joined + b"\t" + joined + b"\n"})
    refuse(store, long, r"long\.tsv, line 21: more than the table's 20 columns")


def test_a_nul_byte(tmp_path: Path, store: Path) -> None:
    line = tsv_text(GOOD).encode().splitlines(keepends=True)[9].replace(b"PRESENT", b"PRE\x00ENT")
    refuse(store, write_lines(tmp_path / "a.tsv", {10: line}), r"a\.tsv, line 10: a NUL byte")


def test_bytes_that_are_no_utf8(tmp_path: Path, store: Path) -> None:
    line = tsv_text(GOOD).encode().splitlines(keepends=True)[9].replace(b"Aiton", b"A\xeft\xf6n")
    refuse(store, write_lines(tmp_path / "a.tsv", {10: line}), r"a\.tsv, .*not utf-8 text")


def test_a_quote_that_swallows_the_rest_of_the_file(tmp_path: Path, store: Path) -> None:
    path = tmp_path / "a.csv"
    text = tsv_text(GOOD).replace("\t", ",").splitlines(keepends=True)
    text[20] = text[20].replace("Nymphaea", '"Nymphaea', 1).replace(",Nymphaea", ',"Nymphaea', 1)
    path.write_text("".join(text), encoding="utf-8")
    refuse(store, path, r"a\.csv")


def test_a_line_that_does_not_end(tmp_path: Path, store: Path) -> None:
    path = tmp_path / "a.tsv"
    header = tsv_text(GOOD).splitlines(keepends=True)[0].encode()
    path.write_bytes(header + b"x" * (24 << 20))
    refuse(store, path, r"a\.tsv, line 2: a line longer than")


def test_two_gigabytes_without_a_line_end_are_refused_at_once_in_little_memory(
    tmp_path: Path, store: Path
) -> None:
    path = tmp_path / "a.tsv"
    header = tsv_text(GOOD).splitlines(keepends=True)[0].encode()
    with path.open("wb") as out:
        out.write(header)
        block = b"x" * (8 << 20)
        for _ in range(4):
            out.write(block)
        out.truncate(2 << 30)  # the rest is a hole in the file, which is never reached
    tracemalloc.start()
    began = time.monotonic()
    refuse(store, path, "line 2: a line longer than")
    _, peak_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak_bytes < 64 << 20
    assert time.monotonic() - began < 60


def test_a_parquet_file_that_is_cut_short_or_whose_pages_are_damaged(
    tmp_path: Path, store: Path
) -> None:
    path = write_parquet(tmp_path / "a.parquet", [record(number) for number in range(900)])
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    refuse(store, path, r"a\.parquet: it cannot be read as Parquet")
    path.write_bytes(whole[:4] + b"\xff" * (len(whole) // 2) + whole[4 + len(whole) // 2 :])
    refuse(store, path, r"a\.parquet")


def test_a_zip_bomb_and_a_gzip_bomb(tmp_path: Path, store: Path) -> None:
    header = tsv_text(GOOD).encode()
    zipped = tmp_path / "bomb.zip"
    with zipfile.ZipFile(zipped, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("occurrence.csv", header + b"\n" * (64 << 20))
    refuse(store, zipped, "200 times its compressed size")
    packed = tmp_path / "bomb.tsv.gz"
    packed.write_bytes(gzip.compress(header + b"\n" * (64 << 20)))
    refuse(store, packed, "200 times its compressed size")


@pytest.mark.parametrize("name", ["../../escaped.csv", "/tmp/escaped.csv", "..\\escaped.csv"])
def test_a_member_that_would_land_elsewhere(tmp_path: Path, store: Path, name: str) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as out:
        out.writestr(name, tsv_text(GOOD))
    refuse(store, path, "leads outside the archive")
    assert not (tmp_path.parent / "escaped.csv").exists()


def test_a_zip_inside_a_zip(tmp_path: Path, store: Path) -> None:
    inner = write_archive(tmp_path / "inner.zip", GOOD)
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as out:
        out.write(inner, "inner.zip")
    refuse(store, path, "archive inside the archive")


BOMB = '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY x "ha"><!ENTITY y "&x;&x;&x;&x;">]>'


def test_entities_in_the_descriptor_are_refused_and_in_the_metadata_not_read(
    tmp_path: Path, store: Path
) -> None:
    for member in ("metadata.xml", "meta.xml"):
        source = write_archive(tmp_path / "good.zip", GOOD)
        path = tmp_path / "a.zip"
        with zipfile.ZipFile(source) as good, zipfile.ZipFile(path, "w") as out:
            for name in good.namelist():
                content = good.read(name)
                out.writestr(name, BOMB.encode() + content if name == member else content)
        if member == "meta.xml":
            refuse(store, path, "a.zip/meta.xml: it declares entities")
        else:
            report = load_occurrences(store, [path])
            assert report.rows_kept == len(GOOD)
            assert "it declares entities" in report.notes[0]


def test_metadata_that_is_no_metadata_is_a_note(tmp_path: Path, store: Path) -> None:
    path = write_archive(tmp_path / "a.zip", GOOD, datasets={"x": EML.replace("eml:eml", "eml:no")})
    report = load_occurrences(store, [path])
    assert report.rows_kept == len(GOOD)
    assert "dataset/x.xml is not in the Ecological Metadata Language" in report.notes[0]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "it is empty"),
        (b"\n\n\n", "not a row of column names"),
        (b"words only\n", "not a row of column names"),
        (b"a\tb\n1\t2\n", "no column for a plant name"),
        (b"scientificName\tdecimalLatitude\nx\t1\n", "no column for decimalLongitude"),
        (b"PAR1 this is no parquet", "cannot be read as Parquet"),
        (b"PK\x03\x04 this is no zip", "cannot be read as a zip file"),
        (b"\x1f\x8b this is no gzip", "damaged or cut short"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "NUL byte|not a row of column names"),
    ],
)
def test_a_file_that_is_something_else(
    tmp_path: Path, store: Path, content: bytes, message: str
) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(content)
    refuse(store, path, message)


def test_a_file_that_is_not_there_and_a_folder(tmp_path: Path, store: Path) -> None:
    refuse(store, tmp_path / "none.csv", "no such file")
    (tmp_path / "empty").mkdir()
    refuse(store, tmp_path / "empty", "no table of records in it")


def test_an_archive_of_events_is_not_read_as_occurrences(tmp_path: Path, store: Path) -> None:
    source = write_archive(tmp_path / "good.zip", GOOD)
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(source) as good, zipfile.ZipFile(path, "w") as out:
        for name in good.namelist():
            out.writestr(name, good.read(name).replace(b"terms/Occurrence", b"terms/Event"))
    refuse(store, path, "its core holds Event rows, and no extension")


def test_an_archive_whose_descriptor_points_past_the_last_column(
    tmp_path: Path, store: Path
) -> None:
    source = write_archive(tmp_path / "good.zip", GOOD)
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(source) as good, zipfile.ZipFile(path, "w") as out:
        for name in good.namelist():
            out.writestr(name, good.read(name).replace(b'index="5"', b'index="55"'))
    refuse(store, path, "20 columns where the descriptor needs 56")


def test_lines_that_end_in_two_ways_lose_nothing(tmp_path: Path, store: Path) -> None:
    lines = tsv_text(GOOD).splitlines()
    path = tmp_path / "a.tsv"
    ends = ["\r\n" if number % 3 else "\n" for number in range(len(lines))]
    path.write_text(
        "".join(line + end for line, end in zip(lines, ends, strict=True)),
        encoding="utf-8",
        newline="",
    )
    assert load_occurrences(store, [path]).rows_kept == len(GOOD)


def test_empty_lines_and_a_missing_last_line_end_lose_nothing(tmp_path: Path, store: Path) -> None:
    path = tmp_path / "a.tsv"
    path.write_text("\n\n".join(tsv_text(GOOD).splitlines()), encoding="utf-8")
    assert load_occurrences(store, [path]).rows_kept == len(GOOD)


def test_records_on_the_antimeridian_and_the_poles_are_kept_where_they_are(
    tmp_path: Path, store: Path
) -> None:
    places = [
        ("180", "51.9"),
        ("-180", "51.9"),
        ("179.9999999", "-51.9"),
        ("12.5", "90"),
        ("-12.5", "-90"),
    ]
    records = [
        record(number, decimalLongitude=lon, decimalLatitude=lat, countryCode="")
        for number, (lon, lat) in enumerate(places)
    ]
    path = write_tsv(tmp_path / "a.tsv", records)
    assert load_occurrences(store, [path]).rows_kept == len(places)
    found = records_within(Build(store).connection, 179.99, 51.9, 5_000)
    assert sorted(found_record.longitude for found_record in found) == [-180.0, 180.0]
