"""Loading files: every form, every count, nothing twice, nothing half."""

import hashlib
import json
from collections import Counter
from pathlib import Path

import pytest

from data_loaders.build import file_sha256
from data_loaders.occurrences import QualityRules, load_occurrences
from data_loaders.occurrences.report import REASON_MEANINGS, REASONS
from data_loaders.progress import LoadProgress
from data_loaders.report import NothingKept
from service.errors import BadFile, StoreMissing
from service.store.database import Build
from service.store.occurrences import evidence
from service.values.vocabulary import PlantId
from tests.data_loaders.occurrences.files import (
    EML,
    FORMS,
    Cells,
    record,
    tsv_text,
    write_archive,
    write_tsv,
)
from tests.data_loaders.occurrences.stores import make_store
from tests.records import OccurrenceRecord, records_within

FLAWED: list[tuple[str, Cells]] = [
    ("no-name", {"scientificName": "", "species": "", "verbatimScientificName": ""}),
    ("doubtful-name", {"issue": "TAXON_MATCH_FUZZY", "verbatimScientificName": "Nymphea odorta"}),
    (
        "not-of-store",
        {
            "scientificName": "Quercus alba L.",
            "species": "Quercus alba",
            "verbatimScientificName": "",
        },
    ),
    ("fossil-or-living-collection", {"basisOfRecord": "LIVING_SPECIMEN"}),
    ("absent", {"occurrenceStatus": "ABSENT"}),
    ("unreadable-status", {"occurrenceStatus": "perhaps"}),
    ("no-coordinates", {"decimalLatitude": ""}),
    ("unreadable-coordinates", {"decimalLatitude": "41,5"}),
    ("zero-coordinates", {"decimalLatitude": "0.0", "decimalLongitude": "0"}),
    ("swapped-coordinates", {"decimalLatitude": "-83.1", "decimalLongitude": "41.2"}),
    ("coordinates-out-of-range", {"decimalLongitude": "-200.5"}),
    ("flagged-coordinates", {"issue": "COUNTRY_COORDINATE_MISMATCH"}),
    (
        "place-and-not-plant",
        {
            "decimalLatitude": "39.828175",
            "decimalLongitude": "-98.579500",
            "coordinateUncertaintyInMeters": "",
        },
    ),
    ("uncertainty-too-large", {"coordinateUncertaintyInMeters": "250000"}),
    ("captive-or-cultivated", {"degreeOfEstablishment": "cultivated"}),
    ("duplicate", {}),
]


def mixed_records() -> list[Cells]:
    """Forty good records, and one to three with each flaw."""
    records = [record(number) for number in range(40)]
    records[3] |= {
        "scientificName": "Eichhornia crassipes (Mart.) Solms",
        "species": "Pontederia crassipes",
    }
    records[4] |= {"scientificName": "Typha ×glauca Godr.", "species": ""}
    records[5] |= {"coordinateUncertaintyInMeters": "", "eventDate": "1998/2003", "year": ""}
    records[6] |= {"occurrenceID": "", "coordinateUncertaintyInMeters": "0"}
    records[8] |= {"geodeticDatum": "North American Datum 1927"}
    records[9] |= {"geodeticDatum": "EPSG:4326"}
    records[7] |= {
        "scientificName": "Nymphaea odorata subsp. inventa",
        "verbatimScientificName": "Nymphæa inventa",
    }
    number = 100
    for place, (reason, cells) in enumerate(FLAWED):
        for copy in range(1 + place % 3):
            number += 1
            same = (
                {"occurrenceID": f"https://records.example.org/{copy}"}
                if reason == "duplicate"
                else {}
            )
            records.append(record(number, **(cells | same)))
    return records


def all_records(store: Path) -> set[OccurrenceRecord]:
    build = Build(store)
    found = records_within(build.connection, -83.0, 41.0, 1_000_000, limit=100_000)
    build.close()
    return set(found)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "store.db")


@pytest.mark.parametrize("form", FORMS)
def test_every_form_gives_the_same_records_and_the_same_counts(
    tmp_path: Path, store: Path, form: str
) -> None:
    records = mixed_records()
    path = FORMS[form](tmp_path / form, records)
    report = load_occurrences(store, [path])
    expected = Counter({reason: 1 + place % 3 for place, (reason, _) in enumerate(FLAWED)})
    assert Counter(report.set_apart) == expected
    assert report.rows_read == len(records) == report.rows_kept + sum(report.set_apart.values())
    assert report.files[0].remarks == {
        "matched-by-species-column": 1,
        "uncertainty-unreadable": 1,
        "year-unknown": 1,
        "datum-moved": 1,
    }
    assert report.files[0].other_plants == (("Quercus alba L.", 3),)
    assert sorted(report.files[0].examples["absent"]) == [
        f"https://records.example.org/{n}" for n in (108, 109)
    ]
    found = all_records(store)
    assert len(found) == 40
    by_plant = Counter(found_record.plant_id for found_record in found)
    assert by_plant == {"nymphaea-odorata": 38, "pontederia-crassipes": 1, "typha-x-glauca": 1}
    assert {found_record.record_key for found_record in found} == {
        f"https://records.example.org/{number}" for number in range(40) if number != 6
    } | {"9000006"}


def test_the_reasons_are_complete_and_explained() -> None:
    assert [reason for reason, _ in FLAWED] == list(REASONS) == list(REASON_MEANINGS)


def test_counts_and_reasons_stand_in_the_source_row(tmp_path: Path, store: Path) -> None:
    path = write_tsv(tmp_path / "download.tsv", mixed_records())
    report = load_occurrences(store, [path])
    row = (
        Build(store)
        .connection.execute("SELECT * FROM source WHERE kind = 'occurrences'")
        .fetchone()
    )
    assert (row["rows_read"], row["rows_kept"]) == (report.rows_read, report.rows_kept)
    assert row["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert json.loads(row["report"])["set_apart"] == report.set_apart


def test_loading_the_same_file_twice_changes_nothing(tmp_path: Path, store: Path) -> None:
    path = write_tsv(tmp_path / "download.tsv", mixed_records())
    first = load_occurrences(store, [path])
    before = file_sha256(store)
    again = load_occurrences(store, [path])
    assert again.files[0].unchanged
    assert (again.rows_read, again.rows_kept) == (first.rows_read, first.rows_kept)
    assert file_sha256(store) == before


def test_a_file_held_already_is_not_read_again_beside_a_new_one(
    tmp_path: Path, store: Path
) -> None:
    first, second = (write_tsv(tmp_path / f"{number}.tsv", [record(number)]) for number in (1, 2))
    load_occurrences(store, [first])
    report = load_occurrences(store, [first, second])
    assert [(file.unchanged, file.rows_read) for file in report.files] == [
        (True, 1),
        (False, 1),
    ]


def test_the_same_records_in_another_file_are_duplicates(tmp_path: Path, store: Path) -> None:
    records = [record(number) for number in range(30)]
    load_occurrences(store, [write_tsv(tmp_path / "first.tsv", records)])
    before = all_records(store)
    more = [record(number) for number in range(20, 50)]
    report = load_occurrences(store, [write_tsv(tmp_path / "second.tsv", more)])
    assert (report.rows_kept, report.set_apart) == (20, {"duplicate": 10})
    assert len(all_records(store)) == 50
    assert before < all_records(store)


def test_records_without_any_id_are_held_once(tmp_path: Path, store: Path) -> None:
    nameless = {"occurrenceID": "", "gbifID": ""}
    records = [record(number, **nameless) for number in (1, 2, 2)]
    report = load_occurrences(store, [write_tsv(tmp_path / "a.tsv", records)])
    assert (report.rows_kept, report.set_apart) == (2, {"duplicate": 1})


def test_the_same_id_in_two_data_sets_is_two_records(tmp_path: Path, store: Path) -> None:
    records = [record(1), record(1, datasetKey="another")]
    assert load_occurrences(store, [write_tsv(tmp_path / "a.tsv", records)]).rows_kept == 2


def test_several_files_go_in_together_or_not_at_all(tmp_path: Path, store: Path) -> None:
    good = write_tsv(tmp_path / "good.tsv", [record(1)])
    bad = tmp_path / "bad.tsv"
    bad.write_text(tsv_text([record(2)]) + "one\ttwo\n", encoding="utf-8")
    before = file_sha256(store)
    with pytest.raises(BadFile, match=r"bad\.tsv, line 3: 2 columns"):
        load_occurrences(store, [good, bad])
    assert file_sha256(store) == before


def test_other_rules_read_the_file_again_and_only_add(tmp_path: Path, store: Path) -> None:
    path = write_tsv(
        tmp_path / "a.tsv", [record(1), record(2, coordinateUncertaintyInMeters="5000")]
    )
    strict = load_occurrences(store, [path], rules=QualityRules(max_uncertainty_m=1_000))
    assert strict.set_apart == {"uncertainty-too-large": 1}
    loose = load_occurrences(store, [path])
    assert (loose.rows_kept, loose.set_apart) == (1, {"duplicate": 1})


def test_a_matcher_may_be_given(tmp_path: Path, store: Path) -> None:
    path = write_tsv(tmp_path / "a.tsv", [record(1)])
    report = load_occurrences(store, [path], matcher=lambda name: PlantId("typha-latifolia"))
    assert report.rows_kept == 1
    assert {found.plant_id for found in all_records(store)} == {"typha-latifolia"}


def test_defaults_of_the_descriptor_fill_empty_cells_and_missing_columns(
    tmp_path: Path, store: Path
) -> None:
    records = [record(1, license=""), record(2), record(3, license="\\N")]
    path = write_archive(
        tmp_path / "a.zip",
        records,
        constants={"basisOfRecord": "PreservedSpecimen"},
        defaults={"license": "http://creativecommons.org/publicdomain/zero/1.0/legalcode"},
    )
    load_occurrences(store, [path])
    found = {found.record_key[-1]: found for found in all_records(store)}
    assert {key: record.licence[-9:] for key, record in found.items()} == {
        "1": "legalcode",
        "2": "CC_BY_4_0",
        "3": "legalcode",
    }
    assert {record.basis_of_record for record in found.values()} == {"PreservedSpecimen"}


def test_titles_and_citations_of_the_data_sets_are_kept_for_citing(
    tmp_path: Path, store: Path
) -> None:
    key = record(1)["datasetKey"]
    other = EML.replace("an invented county", "another invented county")
    path = write_archive(
        tmp_path / "a.zip", [record(1), record(2, datasetKey="")], datasets={key: other}
    )
    load_occurrences(store, [path])
    found = evidence(Build(store).connection, PlantId("nymphaea-odorata"), -83.0, 41.0)
    assert [
        (dataset.dataset_key, dataset.title, dataset.citation[:26]) for dataset in found.datasets
    ] == [
        (key, "Water plants of another invented county", "Invented Recorders (2021)."),
        ("invented-archive/v1", "Water plants of an invented county", "Invented Recorders (2021)."),
    ]


def test_progress_tells_rate_and_time_left(tmp_path: Path, store: Path) -> None:
    path = write_tsv(tmp_path / "a.tsv", [record(number) for number in range(45_000)])
    stages: list[LoadProgress] = []
    load_occurrences(store, [path], progress=stages.append)
    assert {progress.rows for progress in stages} >= {0, 45_000}
    assert all(progress.rows_per_s > 0 for progress in stages if progress.rows)
    assert stages[-1].stage == "storing"
    assert stages[-1].done == pytest.approx(1.0)
    assert [progress.done or 0.0 for progress in stages] == sorted(
        progress.done or 0.0 for progress in stages
    )


def test_an_interrupt_from_the_keyboard_leaves_the_old_store(tmp_path: Path, store: Path) -> None:
    path = write_tsv(tmp_path / "a.tsv", [record(number) for number in range(25_000)])
    before = file_sha256(store)

    def interrupt(progress: LoadProgress) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        load_occurrences(store, [path], progress=interrupt)
    assert file_sha256(store) == before
    assert [
        path.name for path in tmp_path.iterdir() if "draft" in path.name or "loading" in path.name
    ] == []


def test_a_missing_store_is_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing):
        load_occurrences(tmp_path / "none.db", [write_tsv(tmp_path / "a.tsv", [record(1)])])


def test_an_empty_table_loads_nothing_and_says_so(tmp_path: Path, store: Path) -> None:
    path = tmp_path / "a.tsv"
    path.write_text(tsv_text([record(1)]).splitlines()[0] + "\n", encoding="utf-8")
    before = store.read_bytes()
    with pytest.raises(NothingKept, match="holds no rows"):
        load_occurrences(store, [path])
    assert store.read_bytes() == before
