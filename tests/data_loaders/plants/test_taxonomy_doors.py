"""Taxon tables as people have them: no kingdom, names in two columns, headings of their own.

The genus Foobaria and its species are invented; the whale is real.
"""

from pathlib import Path

import pytest

from data_loaders.plants.taxonomy import load_taxonomy
from data_loaders.report import NothingKept
from service.errors import BadFile, BadRequest
from service.store.database import Build
from tests.data_loaders.occurrences.stores import make_store


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "store.db")


def names(store: Path) -> set[str]:
    build = Build(store)
    try:
        return {row[0] for row in build.connection.execute("SELECT name FROM taxonomy_name")}
    finally:
        build.close()


def test_a_whale_without_a_kingdom_is_known_by_the_taxa_above_it(
    store: Path, tmp_path: Path
) -> None:
    table = tmp_path / "usage.tsv"
    table.write_text(
        "ID\tparentID\tstatus\tscientificName\trank\n"
        "a\t\taccepted\tAnimalia\tkingdom\n"
        "b\ta\taccepted\tBalaenoptera\tgenus\n"
        "c\tb\taccepted\tBalaenoptera musculus\tspecies\n"
        "d\tc\tsynonym\tBalaena musculus\tspecies\n"
        "p\t\taccepted\tPlantae\tkingdom\n"
        "r\tp\taccepted\tRosidae\tsubclass\n"
        "q\tr\taccepted\tFoobaria\tgenus\n"
        "s\tq\taccepted\tFoobaria limosa\tspecies\n"
    )
    report = load_taxonomy(store, table)
    assert names(store) == {"Foobaria", "Foobaria limosa"}
    assert (report.rows_read, report.rows_kept) == (8, 2)
    assert report.set_apart == {"not-a-plant": 3, "rank-not-used": 3}


def test_a_whale_is_known_by_its_phylum_or_family(store: Path, tmp_path: Path) -> None:
    table = tmp_path / "list.csv"
    table.write_text(
        "taxonID,scientificName,phylum,family\n"
        "1,Balaenoptera musculus,Chordata,\n"
        "2,Megaptera novaeangliae,,Balaenopteridae\n"
        "3,Foobaria limosa,Tracheophyta,Foobariaceae\n"
    )
    assert load_taxonomy(store, table).set_apart == {"not-a-plant": 2}
    assert names(store) == {"Foobaria limosa"}


def test_a_table_of_whales_alone_keeps_nothing_and_says_why(store: Path, tmp_path: Path) -> None:
    table = tmp_path / "list.csv"
    table.write_text("taxonID,scientificName,kingdom\n1,Balaenoptera musculus,Animalia\n")
    before = store.read_bytes()
    with pytest.raises((BadFile, NothingKept), match="not-a-plant 1"):
        load_taxonomy(store, table)
    assert store.read_bytes() == before


def test_genus_and_epithets_in_columns_of_their_own_make_the_name(
    store: Path, tmp_path: Path
) -> None:
    table = tmp_path / "flora.csv"
    table.write_text(
        "Genus,Species,Infraspecies,Rank\n"
        "Foobaria,limosa,,species\n"
        "Foobaria,limosa,minor,variety\n"
        "Foobaria,Foobaria palustris,,species\n"
    )
    report = load_taxonomy(store, table)
    assert (report.rows_read, report.rows_kept) == (3, 3)
    assert names(store) == {"Foobaria limosa", "Foobaria limosa var. minor", "Foobaria palustris"}


def test_headings_in_another_language_are_named_by_the_person(store: Path, tmp_path: Path) -> None:
    table = tmp_path / "plantas.csv"
    table.write_text("Clave;Nombre;Categoría\n7;Foobaria limosa;species\n", encoding="utf-8")
    headings = {"taxonID": "clave", "scientificName": "Nombre", "taxonRank": "Categoría"}
    with pytest.raises(BadFile, match="--column scientificName=HEADING"):
        load_taxonomy(store, table)
    assert load_taxonomy(store, table, columns=headings).accepted == 1
    with pytest.raises(BadFile, match="no column 'Nom'"):
        load_taxonomy(store, table, columns={"scientificName": "Nom"})
    with pytest.raises(BadRequest, match="not a term"):
        load_taxonomy(store, table, columns={"colour": "Nombre"})
