import csv
from pathlib import Path

import pytest

from data_loaders.plants.history import read_histories
from data_loaders.plants.rows import FOLDER
from data_loaders.plants.traits_from_tables import main
from service.errors import BadFile

TRAITS = FOLDER / "traits"
HEADING = "accepted_name,like_climate_regions,open_like_climate_regions,tropical_regions,invasive_regions,name_searchable,sterile\n"
MEASURED = "taxon,trait,value,unit,evidence,source_id\n"


def folder_with(tmp_path: Path, rows: str, measured: str = "") -> Path:
    (tmp_path / "history.csv").write_text(HEADING + rows, encoding="utf-8")
    (tmp_path / "measured.csv").write_text(MEASURED + measured, encoding="utf-8")
    return tmp_path


def test_what_is_known_of_a_plant_elsewhere_is_read_with_what_was_measured(tmp_path: Path) -> None:
    found = read_histories(
        folder_with(
            tmp_path,
            "Planta alba,11,63,2,5,yes,mostly\n",
            "Planta alba,pieces_travel,1.0,0/1,database,T01\n",
        )
    )["Planta alba"]
    assert (found.like_climate_regions, found.open_regions, found.invasive_regions) == (11, 63, 5)
    assert (found.pieces_travel, found.sterile) == (True, "mostly")


def test_a_name_that_no_checklist_could_hold_has_no_history(tmp_path: Path) -> None:
    group = '"Planta hybrids",0,110,0,0,"no (garden group, not a checklist name)",\n'
    assert read_histories(folder_with(tmp_path, group)) == {}


def test_a_wrong_cell_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadFile) as caught:
        read_histories(folder_with(tmp_path, "Planta alba,many,63,2,5,yes,\n"))
    assert caught.value.place == "row 2, column like_climate_regions"


def test_the_shipped_table_has_every_plant_of_the_catalogue_and_no_united_states() -> None:
    with (FOLDER / "plants.csv").open(encoding="utf-8", newline="") as stream:
        catalogue = {row["accepted_name"] for row in csv.DictReader(stream)}
    with (TRAITS / "history.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {row["accepted_name"] for row in rows} == catalogue
    regions = {region for row in rows for region in row["where"].split(";")}
    assert len(regions) > 200
    assert not {region for region in regions if "United States" in region}


def test_the_conversion_keeps_what_is_read_and_leaves_out_repeated_figures(tmp_path: Path) -> None:
    gathered, target = tmp_path / "gathered", tmp_path / "ours"
    gathered.mkdir()
    head = (
        "accepted_name,n_regions_alien,n_regions_flagged_invasive,n_with_tropical,"
        "recorded_alien_in_canada,recorded_alien_in_mexico,n_cryptogenic_records,regions,"
        "in_any_checklist,name_searchable,n_cts_excl_canada_mexico,native_in_europe_floraveg,"
        "cts_regions_open_to_it,share_of_open_cts_regions\n"
    )
    row = "Planta alba,3,1,0,0,0,0,France;Japan,yes,yes,2,,110,0.02\n"
    (gathered / "naturalised_elsewhere.csv").write_text(head + row, encoding="utf-8")
    (gathered / "life_history.csv").write_text(
        "accepted_name,life_span,sterile_in_cultivation,how_known\nPlanta alba,annual,no,memory\n",
        encoding="utf-8",
    )
    (gathered / "world_trade.csv").write_text(
        "accepted_name,pond_trade,aquarium_trade\nPlanta alba,2,0\n", encoding="utf-8"
    )
    (gathered / "traits_measured.csv").write_text(
        "taxon,trait,value,unit,source,url_or_repo,evidence,licence\n"
        "Planta alba,seed_mass,2,mg,A flora,here,database,cite\n"
        "Planta alba,seed_mass,9,mg,A page,there,secondary,cite\n",
        encoding="utf-8",
    )
    main(gathered, target)
    history = read_histories(target)["Planta alba"]
    assert (history.like_climate_regions, history.invasive_regions) == (2, 1)
    measured = (target / "measured.csv").read_text(encoding="utf-8")
    assert "seed_mass_mg,2" in measured
    assert ",9," not in measured
