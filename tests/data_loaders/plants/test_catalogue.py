"""The catalogue: what is loaded, and what is refused with its place."""

import shutil
from pathlib import Path

import pytest

from data_loaders.plants.catalogue import read_catalogue
from data_loaders.plants.rows import FOLDER
from data_loaders.plants.taxa import formula_parents, genus_of, plant_id_of, rank_of, tidy
from service.errors import BadFile
from service.store.library import Library
from service.values.vocabulary import PlantId, Rank


def test_plants_stand_under_genus_and_family(library: Library) -> None:
    plant = library.plants[PlantId("nymphaea-odorata-subsp-tuberosa")]
    above = []
    while plant.parent_id is not None:
        plant = library.plants[plant.parent_id]
        above.append((plant.rank, plant.accepted_name))
    assert above == [
        ("species", "Nymphaea odorata"),
        ("genus", "Nymphaea"),
        ("family", "Nymphaeaceae"),
    ]


def test_a_cell_says_where_it_was_read_and_others_are_common_practice(library: Library) -> None:
    plant = library.plants[PlantId("pontederia-crassipes")]
    assert plant.known("doubling_days_min").how_known == "read"
    assert "Madsen" in plant.known("doubling_days_min").source
    assert plant.known("spread_rate").how_known == "common-practice"


def test_every_row_of_plants_and_names_is_in_the_store(library: Library) -> None:
    catalogue = read_catalogue()
    assert {plant_id_of(row.accepted_name) for row in catalogue.plants} == {
        plant.plant_id for plant in library.plants.values() if plant.catalogued
    }
    stored = {(name.name, name.kind, name.plant_id) for name in library.names}
    assert {
        (row.name, row.kind, plant_id_of(row.accepted_name)) for row in catalogue.names
    } <= stored


@pytest.mark.parametrize(
    ("file", "change", "place"),
    [
        ("plants.csv", ("floating-leaved", "climbing"), "row 2, column growth_form"),
        ("plants.csv", (",15,30,200,", ",15,thirty,200,"), "row 2, column depth_cm_min"),
        (
            "names.csv",
            (
                "Castalia odorata,synonym,Nymphaea odorata",
                "Castalia odorata,synonym,Nymphaea nowhere",
            ),
            "row 3",
        ),
    ],
)
def test_a_wrong_cell_is_refused_with_file_row_and_column(
    tmp_path: Path, file: str, change: tuple[str, str], place: str
) -> None:
    folder = Path(shutil.copytree(FOLDER, tmp_path / "plants"))
    text = (folder / file).read_text(encoding="utf-8")
    if file == "names.csv":
        lines = text.splitlines()
        lines.insert(2, change[1] + ",")
        (folder / file).write_text("\n".join(lines), encoding="utf-8")
    else:
        assert change[0] in text
        (folder / file).write_text(text.replace(*change, 1), encoding="utf-8")
    with pytest.raises(BadFile, match=place):
        read_catalogue(folder)


@pytest.mark.parametrize(
    ("name", "listed", "rank", "genus"),
    [
        ("Trapa natans", "species", "species", "Trapa"),
        ("Phragmites australis", "strain", "species", "Phragmites"),
        ("Salvinia", "genus", "genus", "Salvinia"),
        ("Reynoutria × bohemica", "hybrid", "hybrid", "Reynoutria"),
        ("Phalaris arundinacea var. picta", "variety", "variety", "Phalaris"),
        ("Carex agastachys", "subspecies", "species", "Carex"),
    ],
)
def test_rank_and_genus_of_a_name(name: str, listed: Rank, rank: Rank, genus: str) -> None:
    assert (rank_of(name, listed), genus_of(name)) == (rank, genus)


def test_one_spelling_of_the_hybrid_sign() -> None:
    """ICN Art. H.3.1 and Rec. H.3A: the multiplication sign, or a lower-case x in its place."""
    assert tidy("Reynoutria x bohemica") == "Reynoutria × bohemica"
    assert plant_id_of("Typha × glauca") == plant_id_of("Typha x glauca") == "typha-x-glauca"


def test_a_hybrid_formula_names_its_parents() -> None:
    """ICN Art. H.2.1."""
    assert formula_parents("Myriophyllum spicatum × Myriophyllum sibiricum") == (
        "Myriophyllum spicatum",
        "Myriophyllum sibiricum",
    )
    assert formula_parents("Typha × glauca") == ()
