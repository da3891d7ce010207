"""Files as watershed groups, recorders and herbaria keep them, each with its exact counts.

Records and places are invented; shapes of files are those of the standards and programs named.
"""

import shutil
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from data_loaders.occurrences import load_occurrences
from data_loaders.occurrences.tables import Reading, read_mapping
from data_loaders.report import NothingKept
from service.errors import BadFile, BadRequest
from service.store.database import Build
from tests.data_loaders.occurrences.files import (
    Cells,
    csv_text,
    record,
    tsv_text,
    write_archive,
    write_events,
    write_parquet,
    write_tsv,
)
from tests.data_loaders.occurrences.snapshots import ODD, PLAIN, Snapshot, content, spoil, watch
from tests.data_loaders.occurrences.stores import make_store
from tests.records import OccurrenceRecord, records_within

GOOD = [record(number) for number in range(20)]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "store.db")


def stored(store: Path) -> tuple[OccurrenceRecord, ...]:
    build = Build(store)
    try:
        return records_within(build.connection, -83.0, 41.0, 300_000.0)
    finally:
        build.close()


def changed(source: Path, target: Path, change: dict[str, bytes | None]) -> Path:
    """A zip file with some members replaced, added, or (None) left out."""
    with zipfile.ZipFile(source) as good, zipfile.ZipFile(target, "w") as out:
        for name in good.namelist():
            if name not in change:
                out.writestr(name, good.read(name))
        for name, content in change.items():
            if content is not None:
                out.writestr(name, content)
    return target


def test_an_archive_made_again_on_a_desktop(tmp_path: Path, store: Path) -> None:
    source = write_archive(tmp_path / "a.zip", GOOD, folder="records/")
    path = changed(
        source,
        tmp_path / "b.zip",
        {
            "__MACOSX/records/._meta.xml": b"\x00\x05\x16\x07",
            "__MACOSX/._records": b"\x00\x05\x16\x07",
            "records/.DS_Store": b"\x00\x00\x00\x01Bud1",
        },
    )
    assert load_occurrences(store, [path]).rows_kept == 20


@pytest.mark.parametrize(
    ("metadata", "note"),
    [
        (b"\n  <?xml version='1.0'?><eml><dataset><title>T</title></dataset></eml>", ""),
        (
            b"<metadata xmlns:dc='http://purl.org/dc/elements/1.1/'><dc:title>Ponds</dc:title>"
            b"</metadata>",
            "its title is 'Ponds'",
        ),
        (b"<?xml version='1.0' encoding='utf-8'?><eml><t>\xe9t\xe9</t></eml>", "passed over"),
        (b"no xml at all", "passed over"),
    ],
    ids=["white space first", "Dublin Core", "wrong encoding", "no XML"],
)
def test_optional_metadata_that_cannot_be_read_is_a_note(
    tmp_path: Path, store: Path, metadata: bytes, note: str
) -> None:
    source = write_archive(tmp_path / "a.zip", GOOD)
    path = changed(source, tmp_path / "b.zip", {"metadata.xml": metadata})
    report = load_occurrences(store, [path])
    assert report.rows_kept == 20
    assert any(note in one for one in report.notes) if note else report.notes == ()


@pytest.mark.parametrize(
    "row_type",
    [
        "http://rs.tdwg.org/dwc/xsd/simpledarwincore/SimpleDarwinRecord",
        "http://rs.tdwg.org/dwc/dwctype/Occurrence",
        "http://rs.tdwg.org/dwc/terms/DarwinCore",
        "http://rs.tdwg.org/dwc/dwctype/PreservedSpecimen",
    ],
)
def test_row_types_of_older_versions(tmp_path: Path, store: Path, row_type: str) -> None:
    source = write_archive(tmp_path / "a.zip", GOOD)
    with zipfile.ZipFile(source) as archive:
        meta = archive.read("meta.xml")
    meta = meta.replace(b"http://rs.tdwg.org/dwc/terms/Occurrence", row_type.encode())
    path = changed(source, tmp_path / "b.zip", {"meta.xml": meta})
    assert load_occurrences(store, [path]).rows_kept == 20


def test_an_archive_of_events_gives_place_and_date_to_its_records(
    tmp_path: Path, store: Path
) -> None:
    report = load_occurrences(store, [write_events(tmp_path / "events.zip")])
    assert (report.rows_read, report.rows_kept) == (4, 3)
    assert report.set_apart == {"no-coordinates": 1}
    found = {one.record_key: (one.year, one.longitude, one.latitude) for one in stored(store)}
    assert found == {
        "o1": (2020, -83.5, 41.25),
        "o2": (2019, -83.5, 41.25),
        "o3": (2021, -83.5, 41.25),
    }
    assert "records of the extension, filled in from the core (Event)" in report.notes


def test_an_export_of_a_program_for_field_records(tmp_path: Path, store: Path) -> None:
    header = (
        "id,uuid,observed_on,scientific_name,latitude,longitude,positional_accuracy,"
        "captive_cultivated,taxon_geoprivacy,coordinates_obscured,license\n"
    )
    path = tmp_path / "observations-1.csv"
    path.write_text(
        header
        + "1,u-1,2022-06-01,Nymphaea odorata,41.1,-83.1,12,false,,false,CC-BY\n"
        + '2,u-2,2022-06-02,"Nymphaea odorata",41.2,-83.2,,true,,false,CC0\n'
        + "3,u-3,2022-06-03,Nymphaea odorata,41.3,-83.3,5,false,obscured,true,CC0\n"
        + "4,u-4,2022-06-04,Quercus alba,41.3,-83.3,5,false,,false,CC0\n"
    )
    report = load_occurrences(store, [path])
    assert (report.rows_read, report.rows_kept) == (4, 2)
    assert report.set_apart == {"captive-or-cultivated": 1, "not-of-store": 1}
    found = {one.record_key: (one.uncertainty_m, one.year) for one in stored(store)}
    assert found == {"u-1": (12.0, 2022), "u-3": (31_500.0, 2022)}


def test_a_person_says_which_heading_is_which(tmp_path: Path, store: Path) -> None:
    path = tmp_path / "plantas.csv"
    path.write_bytes(
        "Nombre;Latitud;Longitud;Año\nNymphaea odorata;41.5;-83.5;2020\n".encode("cp1252")
    )
    with pytest.raises(BadFile, match="not utf-8 text"):
        load_occurrences(store, [path])
    with pytest.raises(BadFile, match="a plant name"):
        load_occurrences(store, [path], reading=Reading(encoding="cp1252"))
    columns = {
        "scientificName": "nombre",
        "decimalLatitude": "Latitud",
        "decimalLongitude": "Longitud",
        "year": "Año",
    }
    reading = Reading(columns, {"countryCode": "US"}, "cp1252")
    assert load_occurrences(store, [path], reading=reading).rows_kept == 1
    assert [(one.year, one.latitude) for one in stored(store)] == [(2020, 41.5)]
    with pytest.raises(BadFile, match="no column 'Nom'"):
        load_occurrences(store, [path], reading=Reading({"scientificName": "Nom"}, {}, "cp1252"))
    with pytest.raises(BadRequest, match="not a term"):
        load_occurrences(store, [path], reading=Reading({"colour": "Latitud"}, {}, "cp1252"))


def test_a_mapping_file_says_the_same(tmp_path: Path) -> None:
    path = tmp_path / "m.toml"
    path.write_text('encoding = "cp1252"\n[columns]\nscientificName = "Nombre"\n')
    assert read_mapping(path) == Reading({"scientificName": "Nombre"}, {}, "cp1252")
    path.write_text("colour = 1\n")
    with pytest.raises(BadFile, match="colour"):
        read_mapping(path)


def test_quoted_cells_under_a_header_without_quotes(tmp_path: Path, store: Path) -> None:
    """As a spreadsheet program writes text separated by tabs."""
    header, *lines = csv_text(GOOD, delimiter="\t").splitlines()
    path = tmp_path / "sheet.txt"
    path.write_text("\r\n".join([header.replace('"', ""), *lines]) + "\r\n")
    assert load_occurrences(store, [path]).rows_kept == 20
    assert {one.record_key for one in stored(store)} == {one["occurrenceID"] for one in GOOD}


def test_quote_marks_that_are_letters_stay_so(tmp_path: Path, store: Path) -> None:
    records = [one | {"locality": f'"Pond" {place}'} for place, one in enumerate(GOOD)]
    assert load_occurrences(store, [write_tsv(tmp_path / "a.tsv", records)]).rows_kept == 20


def _split(records: Sequence[Cells], folder: Path, parts: int) -> Path:
    folder.mkdir()
    for place in range(parts):
        write_parquet(folder / f"{place:06d}", records[place::parts])
    (folder / "_SUCCESS").write_text("")
    (folder / ".000000.crc").write_bytes(b"crc")
    return folder


def test_a_folder_of_parquet_parts_is_one_source(tmp_path: Path, store: Path) -> None:
    folder = _split(GOOD, tmp_path / "occurrence.parquet", 4)
    report = load_occurrences(store, [folder])
    assert (len(report.files), report.rows_read, report.rows_kept) == (1, 20, 20)
    assert load_occurrences(store, [folder]).unchanged
    renamed = tmp_path / "again"
    shutil.copytree(folder, renamed)
    (renamed / "000003").rename(renamed / "part-9.parquet")
    assert load_occurrences(store, [renamed]).unchanged


def test_a_glob_and_an_unpacked_archive(tmp_path: Path, store: Path) -> None:
    (tmp_path / "in").mkdir()
    for place in range(3):
        write_tsv(tmp_path / "in" / f"part-{place}.tsv", GOOD[place::3])
    report = load_occurrences(store, [str(tmp_path / "in" / "*.tsv")])
    assert (report.rows_read, report.rows_kept) == (20, 20)
    more = [record(number) for number in range(100, 110)]
    with zipfile.ZipFile(write_archive(tmp_path / "a.zip", more)) as archive:
        archive.extractall(tmp_path / "unpacked")
    assert load_occurrences(store, [tmp_path / "unpacked"]).rows_kept == 10
    with pytest.raises(BadFile, match="no table of records"):
        load_occurrences(store, [str(tmp_path / "in" / "*.xyz")])


def test_two_files_of_one_name_are_both_read_and_both_told(tmp_path: Path, store: Path) -> None:
    paths = []
    for place, some in enumerate((GOOD[:5], GOOD[5:])):
        (tmp_path / str(place)).mkdir()
        paths.append(write_tsv(tmp_path / str(place) / "occurrence.txt", some))
    report = load_occurrences(store, paths)
    assert [(one.file, one.rows_kept) for one in report.files] == [
        ("occurrence.txt", 5),
        ("occurrence.txt", 15),
    ]


def test_a_folder_that_was_half_judged_goes_on_where_it_was(
    tmp_path: Path, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = _split(GOOD, tmp_path / "parts", 4)
    good = (folder / "000003").read_bytes()
    (folder / "000003").write_bytes(good[:-40] + b"x" * 40)
    before = store.read_bytes()
    with pytest.raises(BadFile, match="000003"):
        load_occurrences(store, [folder])
    assert store.read_bytes() == before
    (folder / "000003").write_bytes(good)
    judged: list[str] = []
    from data_loaders.occurrences.duck import DuckEngine

    plain = DuckEngine.judge

    def watched(self: DuckEngine, table, target, meter):  # type: ignore[no-untyped-def]
        judged.append(table.path.name)
        return plain(self, table, target, meter)

    monkeypatch.setattr(DuckEngine, "judge", watched)
    assert load_occurrences(store, [folder]).rows_kept == 20
    assert judged == ["000003"]
    assert not list(tmp_path.glob(".store.db.judged-*"))


def test_damaged_parts_are_all_named_and_the_sound_ones_judged_once(
    tmp_path: Path, snapshot: Snapshot, monkeypatch: pytest.MonkeyPatch
) -> None:
    store, parts = make_store(tmp_path / "store.db"), tmp_path / "parts"
    shutil.copytree(snapshot.folder, parts)
    spoil(parts / ODD[3])  # where rows are
    (parts / PLAIN[0]).write_bytes((parts / PLAIN[0]).read_bytes()[:-9])  # cut short
    before = store.read_bytes()
    watched = watch("duckdb", monkeypatch)
    with pytest.raises(BadFile, match=f"{ODD[3]}: .* Damaged too: {PLAIN[0]}"):
        load_occurrences(store, [parts])
    assert store.read_bytes() == before
    assert [name for names in watched.done for name in names] == [*ODD[:3], *ODD[4:], PLAIN[1]]
    for name in (ODD[3], PLAIN[0]):
        shutil.copyfile(snapshot.folder / name, parts / name)
    already = len(watched.begun)
    report = load_occurrences(store, [parts])
    assert watched.begun[already:] == [(ODD[3],), PLAIN[:1]]
    assert content(store, report) == snapshot.expected


def test_nothing_kept_is_an_error_with_the_reason(tmp_path: Path, store: Path) -> None:
    oaks = [one | {"scientificName": "Quercus alba", "species": ""} for one in GOOD]
    path = tmp_path / "oaks.tsv"
    path.write_text(tsv_text(oaks))
    before = store.read_bytes()
    with pytest.raises(NothingKept, match="0 of 20 rows kept; 20 set apart: not-of-store"):
        load_occurrences(store, [path])
    assert store.read_bytes() == before
