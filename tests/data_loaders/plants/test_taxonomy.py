"""Loading open taxonomies beside the built-in catalogue."""

import gzip
import shutil
import sqlite3
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from data_loaders.plants.taxonomy import load_taxonomy
from data_loaders.plants.taxonomy_report import (
    DIFFERENCE_MEANINGS,
    SET_APART_MEANINGS,
)
from data_loaders.progress import LoadProgress
from data_loaders.reference_store import load_reference
from service.errors import BadFile, StoreMissing
from service.store.catalogue import read_sources
from service.store.database import Build
from tests.data_loaders.plants.taxonomy_samples import (
    EML,
    META,
    archive,
    col_tsv,
    gbif_tsv,
    wfo_csv,
)


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("reference") / "reference.db"
    load_reference(path)
    return path


@pytest.fixture
def store(reference: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(reference, tmp_path / "store.db"))


def rows(store: Path, statement: str) -> list[tuple[object, ...]]:
    with sqlite3.connect(store) as connection:
        return connection.execute(statement).fetchall()


def tsv(path: Path) -> Path:
    return wfo_csv(path, delimiter="\t")


def zipped_csv(path: Path) -> Path:
    with zipfile.ZipFile(path.with_suffix(".zip"), "w") as target:
        target.write(wfo_csv(path), "WFO/classification.csv")
        target.writestr("WFO/readme.md", "invented")
    return path.with_suffix(".zip")


def gzipped(path: Path) -> Path:
    packed = path.with_suffix(".gz")
    packed.write_bytes(gzip.compress(wfo_csv(path).read_bytes()))
    return packed


@pytest.mark.parametrize(
    "made", [wfo_csv, tsv, zipped_csv, gzipped, archive, col_tsv], ids=lambda made: made.__name__
)
def test_every_shape_of_a_backbone_gives_the_same_names(
    store: Path, tmp_path: Path, made: Callable[[Path], Path]
) -> None:
    report = load_taxonomy(
        store, made(tmp_path / "classification.csv"), title="Invented", version="1"
    )
    assert (report.rows_read, report.accepted, report.synonyms, report.totals["unplaced"]) == (
        21,
        8,
        7,
        4,
    )
    assert report.set_apart == {"taxon-id-twice": 1, "rank-not-used": 1}
    assert report.lost_links == 3
    assert report.rows_kept + sum(report.set_apart.values()) == report.rows_read


def test_authorship_in_the_name_and_other_status_words_are_read(
    store: Path, tmp_path: Path
) -> None:
    report = load_taxonomy(store, gbif_tsv(tmp_path / "Taxon.tsv"), title="Invented", version="1")
    assert report.set_apart == {
        "taxon-id-twice": 1,
        "rank-not-used": 1,
        "not-a-plant": 1,
        "misapplied-name": 1,
    }
    assert (report.accepted, report.synonyms) == (9, 7)  # a doubtful name is accepted there
    assert rows(
        store, "SELECT name, authorship FROM taxonomy_name WHERE taxon_id = 'wfo-0000000003'"
    ) == [("Foobaria palustris", "(Inv.) Nemo")]


def test_synonyms_of_synonyms_end_at_the_accepted_name(store: Path, tmp_path: Path) -> None:
    load_taxonomy(store, wfo_csv(tmp_path / "c.csv"), title="Invented", version="1")
    accepted = rows(
        store,
        "SELECT n.name, a.name FROM taxonomy_name n JOIN taxonomy_name a ON a.name_no = n.accepted_no"
        " WHERE n.status = 'synonym' AND n.name LIKE 'Foobaria%' ORDER BY n.name",
    )
    assert ("Foobaria palustris", "Foobaria limosa") in accepted
    assert ("Foobaria lacustris", "Foobaria limosa") in accepted


def test_lost_and_circular_links_are_kept_as_unplaced_names(store: Path, tmp_path: Path) -> None:
    load_taxonomy(store, wfo_csv(tmp_path / "c.csv"), title="Invented", version="1")
    unplaced = rows(store, "SELECT name FROM taxonomy_name WHERE status = 'unplaced' ORDER BY name")
    assert [name for (name,) in unplaced] == [
        "Foobaria circularis",
        "Foobaria dubia",
        "Foobaria perdita",
        "Foobaria rotans",
    ]


def test_differences_from_the_catalogue_are_told_and_the_catalogue_stands(
    store: Path, tmp_path: Path
) -> None:
    before = rows(store, "SELECT name, kind, plant_id, note FROM name ORDER BY name_id")
    report = load_taxonomy(store, wfo_csv(tmp_path / "c.csv"), title="Invented", version="1")
    stages = {
        (difference.kind, difference.name, difference.accepted_there)
        for difference in report.differences
    }
    assert stages == {
        ("other-accepted-name", "Pontederia crassipes", "Eichhornia crassipes"),
        ("accepted-there", "Sagittaria natans", "Sagittaria natans"),
        ("other-plant", "Acorus americanus", "Acorus calamus"),
    }
    assert {kind for kind, _, _ in stages} == set(DIFFERENCE_MEANINGS)
    assert rows(store, "SELECT name, kind, plant_id, note FROM name ORDER BY name_id") == before


def test_title_version_and_licence_come_from_the_metadata_where_not_given(
    store: Path, tmp_path: Path
) -> None:
    report = load_taxonomy(store, archive(tmp_path / "backbone.zip"))
    assert (report.source_id, report.title, report.version) == (
        "invented-backbone",
        "Invented backbone",
        "2026-01-31",
    )
    source = next(s for s in read_sources(Build(store).connection) if s.kind == "taxonomy")
    assert (source.licence, source.rows_read, source.rows_kept) == ("CC0 1.0", 21, 19)
    assert source.set_apart["rank-not-used"] == 1


def test_a_title_is_taken_from_the_file_name_at_last(store: Path, tmp_path: Path) -> None:
    assert load_taxonomy(store, wfo_csv(tmp_path / "my names.csv")).title == "my names"


def test_a_newer_version_takes_the_place_of_the_older(store: Path, tmp_path: Path) -> None:
    file = wfo_csv(tmp_path / "c.csv")
    load_taxonomy(store, file, title="Invented", version="1")
    load_taxonomy(store, file, title="Another", version="1")
    report = load_taxonomy(store, file, title="Invented", version="2")
    assert report.replaced == "1"
    assert rows(store, "SELECT version FROM source WHERE kind = 'taxonomy' ORDER BY source_id") == [
        ("1",),
        ("2",),
    ]
    assert rows(store, "SELECT count(*), count(DISTINCT taxonomy_no) FROM taxonomy_name") == [
        (38, 2)
    ]


def test_the_same_file_gives_the_same_build(reference: Path, tmp_path: Path) -> None:
    ids = []
    for name in ("one.db", "two.db"):
        store = Path(shutil.copy(reference, tmp_path / name))
        load_taxonomy(store, wfo_csv(tmp_path / "c.csv"), title="Invented", version="1")
        ids.append(
            (Build(store).build_id, rows(store, "SELECT * FROM taxonomy_name ORDER BY name_no"))
        )
    assert ids[0] == ids[1]


def test_progress_runs_to_the_end_and_never_back(store: Path, tmp_path: Path) -> None:
    stages: list[LoadProgress] = []
    load_taxonomy(
        store, wfo_csv(tmp_path / "c.csv"), title="Invented", version="1", progress=stages.append
    )
    shares = [progress.done or 0.0 for progress in stages]
    assert shares == sorted(shares)
    assert (stages[0].stage, stages[-1].done, stages[-1].rows) == ("reading", 1.0, 21)


def test_rows_are_read_in_bounded_memory(store: Path, tmp_path: Path) -> None:
    """Three times the rows take no more memory: rows go to disk in batches."""
    peaks = []
    for count in (10_000, 30_000):
        file = tmp_path / f"{count}.tsv"
        lines = (
            f"t{n}\tFoobaria speciesno{_letters(n)}\tNemo\tspecies\taccepted" for n in range(count)
        )
        file.write_text(
            "taxonID\tscientificName\tscientificNameAuthorship\ttaxonRank\ttaxonomicStatus\n"
            + "\n".join(lines),
            encoding="utf-8",
        )
        tracemalloc.start()
        load_taxonomy(store, file, title="Invented", version=str(count))
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.6 * peaks[0]


def _letters(number: int) -> str:
    return "".join(chr(ord("a") + int(digit)) for digit in str(number))


# Files that are refused
# ---------------------------------------------------------------------------------------------


def refused(store: Path, file: Path) -> str:
    before = store.read_bytes()
    with pytest.raises(BadFile) as raised:
        load_taxonomy(store, file, title="Invented", version="1")
    assert store.read_bytes() == before
    assert sorted(path.name for path in store.parent.glob(".store.db.draft*")) == []
    return str(raised.value)


def test_a_missing_column_is_named(store: Path, tmp_path: Path) -> None:
    file = tmp_path / "c.csv"
    file.write_text("taxonID,name\n1,Foobaria limosa\n", encoding="utf-8")
    assert "no column scientificName" in refused(store, file)


def test_a_row_of_another_width_is_named_with_its_line(store: Path, tmp_path: Path) -> None:
    file = tmp_path / "c.csv"
    file.write_text(
        "taxonID,scientificName,taxonRank\n1,Foobaria limosa,species\n2,Foobaria\n",
        encoding="utf-8",
    )
    assert "line 3" in refused(store, file)


def test_a_table_without_a_usable_name_is_refused_with_the_reasons(
    store: Path, tmp_path: Path
) -> None:
    file = tmp_path / "c.csv"
    file.write_text("taxonID,scientificName,taxonRank\n1,Foobariales,order\n", encoding="utf-8")
    assert "rank-not-used 1" in refused(store, file)


@pytest.mark.parametrize(
    "name", ["/etc/taxa.txt", "../taxa.txt", "a/../../taxa.txt", "C:taxa.txt", "inner.zip"]
)
def test_archives_with_names_that_lead_outside_or_archives_inside_are_refused(
    store: Path, tmp_path: Path, name: str
) -> None:
    assert refused(store, archive(tmp_path / "a.zip", extra={name: "x"}))


def test_a_zip_bomb_is_refused(store: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as zipped:
        zipped.writestr("classification.csv", b"taxonID,scientificName\n" + b" " * (64 << 20))
    assert "times its compressed size" in refused(store, tmp_path / "a.zip")


def test_xml_with_entities_is_refused(store: Path, tmp_path: Path) -> None:
    evil = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]>'
    assert "entities" in refused(
        store,
        archive(
            tmp_path / "a.zip", meta=META.replace('<?xml version="1.0" encoding="UTF-8"?>', evil)
        ),
    )
    assert "entities" in refused(
        store, archive(tmp_path / "b.zip", eml=EML.replace('<?xml version="1.0"?>', evil))
    )


def test_an_archive_of_something_else_is_refused(store: Path, tmp_path: Path) -> None:
    occurrences = META.replace("dwc/terms/Taxon", "dwc/terms/Occurrence")
    assert "no table of it holds taxa" in refused(
        store, archive(tmp_path / "a.zip", meta=occurrences)
    )


def test_a_zip_of_several_tables_without_a_descriptor_is_refused(
    store: Path, tmp_path: Path
) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as zipped:
        zipped.writestr("one.csv", "taxonID,scientificName\n")
        zipped.writestr("two.csv", "taxonID,scientificName\n")
    assert "2 tables" in refused(store, tmp_path / "a.zip")


def test_a_missing_file_and_a_missing_store_are_told_apart(store: Path, tmp_path: Path) -> None:
    assert "no such file" in refused(store, tmp_path / "absent.csv")
    with pytest.raises(StoreMissing):
        load_taxonomy(tmp_path / "absent.db", wfo_csv(tmp_path / "c.csv"))


def test_every_reason_has_a_meaning() -> None:
    assert all(SET_APART_MEANINGS.values())
