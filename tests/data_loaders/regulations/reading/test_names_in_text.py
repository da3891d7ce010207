"""Names in running text: what is a listing, under which class, and what is only named."""

import pytest

from data_loaders.regulations.listfile import ListFile, read_list_file
from data_loaders.regulations.load import FOLDER
from data_loaders.regulations.reading import ListReading, Vocabulary, read_document, read_list
from data_loaders.regulations.reading.classes import ClassFinder
from data_loaders.regulations.reading.dates import days_in
from data_loaders.regulations.reading.scan import GenusContext, scan, unhyphenated
from service.store.library import Library

WISCONSIN = read_list_file(FOLDER / "us-wi-nr109.toml")
"""Three plants: Hydrilla verticillata is not among them."""


@pytest.fixture(scope="module")
def vocabulary(library: Library) -> Vocabulary:
    return Vocabulary.of(library)


def found_in(text: str, vocabulary: Vocabulary, *, trusted: bool = False) -> list[str]:
    joined = unhyphenated(text, vocabulary)
    return [found.name for found in scan(joined, vocabulary, GenusContext(), trusted=trusted)]


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("Trapa natans", ["Trapa natans"]),
        ("water chestnut (Trapa natans)", ["Trapa natans"]),
        ("WATER CHESTNUT (TRAPA NATANS)", ["Trapa natans"]),
        ("Hydrilla verticillata (L.f.) Royle", ["Hydrilla verticillata"]),
        (
            "Myriophyllum spicatum, M. aquaticum",
            ["Myriophyllum spicatum", "Myriophyllum aquaticum"],
        ),
        ("Salvinia spp.", ["Salvinia spp."]),
        ("all Salvinia species", ["Salvinia spp."]),
        ("Typha x glauca; Typha ×glauca", ["Typha × glauca", "Typha × glauca"]),
        (
            "Myriophyllum heterophyllum x M. laxum",
            ["Myriophyllum heterophyllum × Myriophyllum laxum"],
        ),
        (
            "Phragmites australis (Cav.) Trin. ex Steud. subsp. australis",
            ["Phragmites australis subsp. australis"],
        ),
        ("Alternanthera philoxe-\nroides", ["Alternanthera philoxeroides"]),
        ("Hydrocharis morsus-\nranae", ["Hydrocharis morsus-ranae"]),
        ("Myriophyllum\nspicatum", ["Myriophyllum spicatum"]),
        ("Myriophylum spicatum", ["Myriophylum spicatum"]),
        ("Hydrilla is a plant of lakes", ["Hydrilla"]),
        ("No person may sell noxious weeds or possess aquatic plants", []),
        ("A. Prohibited plants. B. Restricted plants.", []),
    ],
)
def test_a_name_is_found_as_it_is_written(
    vocabulary: Vocabulary, text: str, names: list[str]
) -> None:
    assert found_in(text, vocabulary) == names


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("Centaurea stoebe", ["Centaurea stoebe"]),
        ("spotted knapweed (Centaurea stoebe)", ["Centaurea stoebe"]),
        ("Common reed", []),
        ("Giant salvinia", []),
        ("Noxious weeds", []),
        ("Purple loosestrife", []),
    ],
)
def test_an_unknown_name_is_believed_where_a_list_has_its_names(
    vocabulary: Vocabulary, text: str, names: list[str]
) -> None:
    found = [name for name in found_in(text, vocabulary, trusted=True) if " " in name]
    assert found == names


def read(text: str, library: Library, model: ListFile = WISCONSIN) -> ListReading:
    return read_list(read_document(text.encode(), "law.txt"), model, library)


@pytest.mark.parametrize(
    "sentence",
    [
        "All plants are prohibited except Trapa natans.",
        "This list does not include Trapa natans or Butomus umbellatus.",
        "Plants excluding Trapa natans are listed.",
        "The plant formerly listed was Trapa natans.",
        "It is not to be confused with Trapa natans.",
        "Trapa natans is not listed.",
        "Trapa natans was removed from the list.",
        "Persons may sell Trapa natans (removed 2015).",
        "The following are exempt:\n\n1. Trapa natans\n2. Butomus umbellatus",
        "EXCEPTIONS\n\nTrapa natans",
    ],
)
def test_a_name_that_is_not_listed_is_set_aside_with_the_reason(
    library: Library, sentence: str
) -> None:
    found = read(sentence, library)
    assert found.missing_here == ()
    assert "Trapa natans" in {entry.name for entry in found.set_aside}
    assert all(entry.reason for entry in found.set_aside)


def test_an_exception_ends_with_its_clause(library: Library) -> None:
    found = read("Salvinia spp. (excluding S. minima); Trapa natans.", library)
    assert {missing.name for missing in found.missing_here} == {"Salvinia spp.", "Trapa natans"}
    assert [entry.name for entry in found.set_aside] == ["Salvinia minima"]


def test_a_look_alike_is_another_plant(library: Library) -> None:
    found = read("Prohibited: Lythrum alatum, Myriophyllum sibiricum.", library)
    assert found.confirmed == ()
    assert {missing.name for missing in found.missing_here} == {
        "Lythrum alatum",
        "Myriophyllum sibiricum",
    }


def test_a_misspelt_name_does_not_confirm_its_entry(library: Library) -> None:
    found = read("Prohibited: Myriophyllum spicatm (Eurasian watermilfoil).", library)
    (unknown,) = found.unknown_names
    assert unknown.perhaps == "Myriophyllum spicatum"
    unseen = next(entry for entry in found.not_in_text if entry.name == "Myriophyllum spicatum")
    assert unseen.perhaps == "Myriophyllum spicatm"


def test_an_old_name_confirms_the_entry_of_the_new_one(library: Library) -> None:
    model = read_list_file(FOLDER / "us-sc-50-13-1415.toml")
    found = read("Prohibited: Pontederia crassipes.", library, model)
    assert [(entry.name, entry.how) for entry in found.confirmed] == [
        ("Eichhornia crassipes", "accepted-name")
    ]


@pytest.mark.parametrize(
    ("classes", "heading", "named"),
    [
        (("Prohibited", "Restricted"), "PROHIBITED SPECIES", "Prohibited"),
        (("Prohibited", "Restricted"), "Prohibited and restricted species", None),
        (("Class A", "Class B", "Class B or C"), "Class B noxious weeds", "Class B"),
        (("Class A", "Class B", "Class B or C"), "(3) Class B or C weeds", "Class B or C"),
        (("Class I", "Class II"), "(2) Class II Prohibited Aquatic Plants", "Class II"),
        (("Class A noxious weed", "Class B noxious weed"), "§ 4. Class B", "Class B noxious weed"),
        (('"A" weed', '"B" weed'), "“A” Weeds", '"A" weed'),
        (("Prohibited species", "Restricted species"), "Penalties", None),
    ],
)
def test_a_heading_names_a_class_or_none(
    classes: tuple[str, ...], heading: str, named: str | None
) -> None:
    assert ClassFinder(classes).named_by(heading) == named


@pytest.mark.parametrize(
    ("text", "kind", "day"),
    [
        ("Effective January 7, 2018.", "effective", "2018-01-07"),
        ("History: Cr. Register, August 2009, No. 644, eff. 9-1-09.", "effective", "2009-09-01"),
        ("amended 6/13/1993", "amended", "1993-06-13"),
        ("(effective date 28 May 1992)", "effective", "1992-05-28"),
        ("in force from 2020-02-30", None, None),
        ("Effective upon filing.", None, None),
    ],
)
def test_days_are_read_with_the_word_that_says_what_they_are(
    text: str, kind: str | None, day: str | None
) -> None:
    found = [(named.kind, named.day.isoformat()) for named in days_in(text)]
    assert found == ([(kind, day)] if kind else [])
