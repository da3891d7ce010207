"""What a row of a taxon table becomes."""

from typing import cast

import pytest

from data_loaders.plants.taxonomy_rows import StagedName, staged
from data_loaders.plants.taxonomy_table import TaxonCells
from service.names import TaxonStatus
from service.values.vocabulary import Rank


def row(**cells: str) -> TaxonCells:
    return cast(TaxonCells, {"taxonID": "1", "scientificName": "Foobaria limosa", **cells})


def name_of(cells: TaxonCells) -> StagedName:
    found = staged(cells, parent_is_accepted=False)
    assert isinstance(found, StagedName)
    return found


@pytest.mark.parametrize(
    ("name", "rank_word", "rank"),
    [
        ("Foobaria limosa", "species", "species"),
        ("Foobaria limosa", "SPECIES", "species"),
        ("Foobaria × limosa", "species", "hybrid"),
        ("Foobaria limosa", "nothospecies", "hybrid"),
        ("Foobaria limosa var. minor", "varietas", "variety"),
        ("Foobaria limosa f. minor", "forma", "form"),
        ("Foobaria limosa subsp. minor", "subsp.", "subspecies"),
        ("Foobaria", "genus", "genus"),
        ("Foobariaceae", "family", "family"),
        ("Foobariaceae", "", "family"),
        ("Foobaria", "", "genus"),
        ("Foobaria limosa", "", "species"),
        ("Foobaria limosa subsp. minor", "", "subspecies"),
    ],
)
def test_ranks_are_read_in_the_backbones_words(name: str, rank_word: str, rank: Rank) -> None:
    assert name_of(row(scientificName=name, taxonRank=rank_word)).rank == rank


@pytest.mark.parametrize(
    ("word", "accepted_id", "status"),
    [
        ("Accepted", "", "accepted"),
        ("accepted", "1", "accepted"),
        ("provisionally accepted", "", "accepted"),
        ("valid", "", "accepted"),
        ("", "", "accepted"),
        ("", "2", "synonym"),
        ("Synonym", "2", "synonym"),
        ("HETEROTYPIC_SYNONYM", "2", "synonym"),
        ("ambiguous synonym", "2", "synonym"),
        ("synonym", "", "unplaced"),
        ("synonym", "1", "unplaced"),
        ("Unchecked", "", "unplaced"),
        ("unplaced", "", "unplaced"),
        ("illegitimate", "2", "synonym"),
    ],
)
def test_statuses_follow_the_word_and_the_link(
    word: str, accepted_id: str, status: TaxonStatus
) -> None:
    assert name_of(row(taxonomicStatus=word, acceptedNameUsageID=accepted_id)).status == status


@pytest.mark.parametrize(
    ("cells", "reason"),
    [
        ({"taxonID": ""}, "no-taxon-id"),
        ({"scientificName": ""}, "no-name"),
        ({"scientificName": "Foobaria sp."}, "no-name"),
        ({"scientificName": "Foobaria sp. 2"}, "no-name"),
        ({"taxonRank": "order"}, "rank-not-used"),
        ({"taxonRank": "subgenus"}, "rank-not-used"),
        ({"kingdom": "Animalia"}, "not-a-plant"),
        ({"nomenclaturalCode": "ICZN"}, "not-a-plant"),
        ({"taxonomicStatus": "misapplied"}, "misapplied-name"),
    ],
)
def test_rows_that_are_no_use_are_set_apart_for_one_reason(
    cells: dict[str, str], reason: str
) -> None:
    assert staged(row(**cells), parent_is_accepted=False) == reason


def test_names_are_stored_by_the_normal_form_of_the_resolver() -> None:
    found = name_of(
        row(
            scientificName="Foobaria × limosa Nemo ex Inv.", scientificNameAuthorship="Nemo ex Inv."
        )
    )
    assert (found.normal_form, found.name) == ("foobaria limosa", "Foobaria × limosa")


def test_a_synonyms_parent_is_its_accepted_name_where_the_table_says_so() -> None:
    found = staged(row(taxonomicStatus="synonym", parentNameUsageID="7"), parent_is_accepted=True)
    assert isinstance(found, StagedName)
    assert (found.status, found.accepted_id, found.parent_id) == ("synonym", "7", "")
