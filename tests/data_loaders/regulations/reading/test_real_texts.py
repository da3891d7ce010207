"""Names of real rules, in the numbering and order in which the rule prints them.

Names and numbers are facts of the law; lead-in sentences are in our own words. Sources:

- Indiana: 312 IAC 18-3-23, proposed rule LSA 12-50, http://www.in.gov/legislative/iac/20120411-IR-312120050PRA.xml.html
- Alabama: regulation 220-2-.124, http://www.outdooralabama.com/education/generalinfo/ans/ansplants.cfm (its misspellings kept)
- Wisconsin: NR 40.04 (2) (b) 13. to 29p., https://docs-preview.legis.wisconsin.gov/code/admin_code/nr/001/40/04/2/b/28s?up=1 (lines broken as there)
- Florida: rule 5B-64.011 in a transcript of the table, https://info.5y1.org/synonyms-for-scientific-law_1_fa62cc.html
- Oregon: 603-052-1200 as effective 2010-02-04, (3)(a)(A) to (I), http://www.oregonjobs.org/ODA/PLANT/603_052_1200.shtml
"""

from datetime import date
from pathlib import Path

import pytest

from data_loaders.regulations.listfile import read_list_file
from data_loaders.regulations.load import FOLDER
from data_loaders.regulations.reading import ListReading, read_document, read_list
from data_loaders.regulations.reading.stored import federal_list, packaged_lists
from service.store.library import Library

REAL = Path(__file__).parent / "real"


def reading_of(list_id: str, library: Library) -> ListReading:
    path = REAL / f"{list_id}.txt"
    return read_list(
        read_document(path.read_bytes(), path.name),
        read_list_file(FOLDER / f"{list_id}.toml"),
        library,
        federal=federal_list(packaged_lists()),
    )


def names(rows: object) -> set[str]:
    return {row.name for row in rows}  # type: ignore[attr-defined]


def test_indiana_lacks_the_two_plants_that_a_later_amendment_added(library: Library) -> None:
    found = reading_of("us-in-aquatic-plants", library)
    assert len(found.confirmed) == 28
    assert names(found.not_in_text) == {"Nitellopsis obtusa", "Stratiotes aloides"}
    assert not found.missing_here
    assert not found.unknown_names


def test_alabama_names_its_plants_by_common_name_alone(library: Library) -> None:
    found = reading_of("us-al-nonindigenous-aquatic", library)
    assert found.not_in_text == ()
    by_common = {entry.name for entry in found.confirmed if entry.how == "common"}
    assert {"alligatorweed", "hydrilla", "water-aloe", "rooted waterhyacinth"} <= by_common


def test_alabama_s_misspelt_latin_is_never_taken_for_the_plant_by_itself(library: Library) -> None:
    unknown = {
        name.name: name.perhaps
        for name in reading_of("us-al-nonindigenous-aquatic", library).unknown_names
    }
    assert set(unknown) == {"Eichornia azurea", "Hydrilla verticillato", "Sagittaria sagittifola"}
    assert all(unknown.values())


def test_wisconsin_s_counties_after_except_are_not_names_taken_out(library: Library) -> None:
    found = reading_of("us-wi-nr40", library)
    confirmed = {entry.name: entry.class_in_text for entry in found.confirmed}
    assert confirmed == dict.fromkeys(confirmed, "Prohibited")
    assert {
        "Epilobium hirsutum",
        "Fallopia x bohemicum",
        "Glyceria maxima",
        "Lagarosiphon major",
        "Najas minor",
        "Phragmites australis",
    } <= confirmed.keys()
    assert found.set_aside == ()


def test_florida_s_table_is_read_class_by_class(library: Library) -> None:
    found = reading_of("us-fl-prohibited-aquatic", library)
    assert not any((found.not_in_text, found.missing_here, found.unknown_names))
    assert found.class_differs == ()
    second = {entry.name for entry in found.confirmed if entry.class_in_text == "Class II"}
    assert second == {"Hygrophila polysperma", "Limnophila sessiliflora", "Pistia stratiotes"}
    assert [(entry.name, entry.reason) for entry in found.set_aside] == [
        ("Salvinia minima", "excluding")
    ]


def test_oregon_takes_the_federal_list_over_except_for_two_plants(library: Library) -> None:
    found = reading_of("us-or-noxious-quarantine", library)
    assert {"Trapa natans", "Butomus umbellatus", "Phragmites australis"} <= {
        entry.name for entry in found.confirmed
    }
    assert names(found.set_aside) == {"Imperata cylindrica", "Ipomoea aquatica"}
    assert found.incorporated
    hydrilla = next(entry for entry in found.not_in_text if entry.name == "Hydrilla verticillata")
    assert "360.200" in hydrilla.by_reference
    assert [(day.day.kind, day.day.day) for day in found.days] == [("effective", date(2010, 2, 4))]


@pytest.mark.parametrize("path", sorted(REAL.glob("*.txt")), ids=lambda path: path.stem)
def test_a_part_of_a_rule_loses_no_entry(library: Library, path: Path) -> None:
    found = reading_of(path.stem, library)
    model = read_list_file(FOLDER / f"{path.stem}.toml")
    seen = [entry.entry for entry in found.confirmed] + [entry.entry for entry in found.not_in_text]
    assert sorted(seen) == list(range(len(model.entries)))
