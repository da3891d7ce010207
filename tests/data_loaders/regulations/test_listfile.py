"""The list files: nothing lost on the way from the tables, and an error that names its place."""

import tomllib
from pathlib import Path

import pytest

from data_loaders.regulations.from_tables import convert, to_toml
from data_loaders.regulations.listfile import ListFile, read_list_file
from data_loaders.regulations.load import reference_lists
from data_loaders.regulations.offices import read_offices
from data_loaders.regulations.phrases import terms_of
from service.errors import BadFile
from service.store.library import Library

ONE = """
list_id = "us-oh-test"
jurisdiction = "US-OH"
title = "T"
authority = "A"
citation = "C"
kind = "regulation"
how_known = "read"
completeness = "partial"
[[classes]]
name = "A"
acts = ["sell"]
how_known = "read"
[[entries]]
class = "A"
name_as_listed = "Trapa natans"
accepted_name = "Trapa natans"
rank = "species"
how_known = "read"
"""


@pytest.mark.parametrize("path", reference_lists(), ids=lambda path: path.stem)
def test_every_reference_list_reads_and_writes_back_the_same(path: Path) -> None:
    model = read_list_file(path)
    assert path.stem.partition("@")[0] == model.list_id
    assert ListFile.model_validate(tomllib.loads(to_toml(model))) == model


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (('rank = "species"', 'rank = "sort"'), r"entries\[0\] \(Trapa natans\), rank"),
        (('acts = ["sell"]', 'acts = ["hawk"]'), r"classes\[0\] \(A\), acts\[0\]"),
        (('class = "A"', 'class = "B"'), r"entries\[0\]\.class"),
        (('"US-OH"', '"US-ZZ"'), "jurisdiction"),
        (
            (
                'how_known = "read"\ncompleteness',
                'effective_from = "2020-13-01"\nhow_known = "read"\ncompleteness',
            ),
            "effective_from",
        ),
        (('title = "T"', 'title = "T"\nurl = "no address"'), "url"),
        (('title = "T"', 'title = "T"\ncolour = "red"'), "colour"),
        (('title = "T"', "title = T"), "it is not valid TOML"),
    ],
)
def test_an_error_names_file_entry_and_field(
    tmp_path: Path, change: tuple[str, str], place: str
) -> None:
    path = tmp_path / "us-oh-test.toml"
    assert change[0] in ONE
    path.write_text(ONE.replace(*change, 1), encoding="utf-8")
    with pytest.raises(BadFile, match=place) as caught:
        read_list_file(path)
    assert caught.value.file == "us-oh-test.toml"


def test_the_conversion_drops_and_smooths_nothing(tmp_path: Path) -> None:
    tables = {
        "lists": "list_id,jurisdiction,title,authority,citation,instrument_kind,url,effective_from,amended,how_known,read_url,read_copy_date,completeness,note\n"
        "us-oh-x,US-OH,T,A,C,order,,,,memory,,,truncated,n. Completeness: cut after Trapa.\n",
        "authorities": "jurisdiction,topic,authority,url,how_known\n"
        "US-OH,sale and nursery,Invented department,https://example.org,memory\n",
        "categories": "list_id,category,restricted_acts,acts_known,duty,permit,wording_summary,how_known\n"
        "us-oh-x,A,,no,unknown,unknown,w,partly-read\n",
        "entries": "list_id,category,name_as_listed,common_as_listed,accepted_name,rank,scope,exceptions,area,condition,how_known,read_url\n"
        'us-oh-x,A,,pond weed,Trapa natans,species,hybrids;cultivars,,statewide,"permit only; not read",memory,\n',
    }
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    assert convert(tmp_path, tmp_path / "out") == {"us-oh-x": 1}
    model = read_list_file(tmp_path / "out" / "us-oh-x.toml")
    entry = model.entries[0]
    assert (entry.name_as_listed, entry.common_as_listed, entry.how_known, entry.read_url) == (
        "",
        "pond weed",
        "memory",
        "",
    )
    assert (entry.scope, entry.condition, model.effective_from, model.classes[0].acts) == (
        ("hybrids", "cultivars"),
        "permit only; not read",
        None,
        (),
    )
    assert (model.completeness, model.missing, model.note) == (
        "truncated",
        "cut after Trapa.",
        "n.",
    )
    assert not model.classes[0].acts_known
    assert [term.kind for term in entry.terms] == ["permit", "doubt"]
    office = read_offices(tmp_path / "out")[0]
    assert (office.topic, office.name, office.url_known) == (
        "trade",
        "Invented department",
        "memory",
    )


def test_a_column_that_would_be_lost_is_an_error(tmp_path: Path) -> None:
    for name in ("lists", "categories", "entries"):
        (tmp_path / f"{name}.csv").write_text("list_id,surprise\nx,y\n", encoding="utf-8")
    with pytest.raises(BadFile, match="surprise"):
        convert(tmp_path, tmp_path / "out")


@pytest.mark.parametrize(
    ("exceptions", "area", "condition", "kinds"),
    [
        ("except Salvinia minima", "statewide", "", "except-taxa"),
        ("species native to Maine", "", "", "except-native"),
        ("hybrids only where both parents are regulated", "", "", "hybrids-of-listed-parents"),
        (
            "sterile or reduced-fertility cultivars may be exempted by the Department under 3 DE Admin. Code 806",
            "",
            "",
            "except-approved-cultivars",
        ),
        (
            "cultivar Aurea and yellow or gold leaf forms excepted",
            "",
            "",
            "except-cultivars except-forms",
        ),
        ("", "Brown;Calumet;Door", "", "only-counties"),
        (
            "",
            "regions 1, 2, 3 and 4;region 5 except Grant County",
            "",
            "except-counties only-regions",
        ),
        ("", "", "listed from 2024-02-20", "from-date"),
        ("", "", "stock may be sold to 2028-12-31", "sold-off-until"),
        ("", "", "class from memory", "doubt"),
        ("", "", "on alternate Tuesdays", "unstructured"),
    ],
)
def test_words_are_given_a_structure_or_kept_as_words(
    exceptions: str, area: str, condition: str, kinds: str
) -> None:
    terms = terms_of(exceptions, area, condition)
    assert [term.kind for term in terms] == kinds.split()
    assert all(term.words in f"{exceptions}{area}{condition}" for term in terms)


def test_the_store_holds_every_entry_of_every_list(library: Library) -> None:
    for path in reference_lists():
        model = read_list_file(path)
        version = next(listed for listed in library.law.versions if listed.list_id == model.list_id)
        assert len(version.entries) == len(model.entries)
        assert [entry.condition for entry in version.entries] == [
            entry.condition for entry in model.entries
        ]


def test_taxa_that_stand_only_on_lists_are_plants_with_their_names_alone(library: Library) -> None:
    plant = library.plants[library.resolver.resolve("Ipomoea arborescens").candidates[0].plant_id]
    assert (plant.catalogued, plant.traits.growth_form, plant.genus) == (False, None, "Ipomoea")


@pytest.mark.parametrize(
    ("listed", "plant"),
    [
        ("Elodea densa", "egeria-densa"),
        ("Ludwigia grandiflora subsp. hexapetala", "ludwigia-hexapetala"),
        ("Salvinia herzogii", "salvinia-biloba"),
        ("Reynoutria x bohemica", "reynoutria-x-bohemica"),
        ("Reynoutria × bohemica", "reynoutria-x-bohemica"),
    ],
)
def test_older_names_of_lists_join_the_plant_of_the_catalogue(
    library: Library, listed: str, plant: str
) -> None:
    joined = {
        entry.plant_id
        for version in library.law.versions
        for entry in version.entries
        if listed in (entry.accepted_name, entry.name_as_listed)
    }
    assert joined == {plant}
