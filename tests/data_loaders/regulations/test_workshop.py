"""The list workshop: checks, comparison, text, and what to verify next."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from data_loaders.reference_store import reference_resolver
from data_loaders.regulations.from_tables import to_toml
from data_loaders.regulations.listfile import ListFile, TermModel, read_list_file
from data_loaders.regulations.load import FOLDER, reference_lists
from data_loaders.regulations.workshop import (
    Problem,
    check_list_file,
    diff_list_files,
    list_version,
    show_list,
    todo,
)
from service.errors import BadFile, BadRequest
from service.regulation.changes import apply
from service.store.library import Library

TODAY = date(2026, 6, 1)
WISCONSIN = read_list_file(FOLDER / "us-wi-nr109.toml")
"""Wis. Admin. Code ch. NR 109: three plants, read, loaded in full."""


def written(
    folder: Path, model: ListFile | None = None, name: str = "list.toml", /, **changes: Any
) -> Path:
    path = folder / name
    path.write_text(to_toml((model or WISCONSIN).model_copy(update=changes)), encoding="utf-8")
    return path


def found(folder: Path, library: Library, **changes: Any) -> list[Problem]:
    return list(check_list_file(written(folder, **changes), library.resolver, TODAY))


def with_entry(**changes: Any) -> dict[str, Any]:
    return {"entries": (WISCONSIN.entries[0].model_copy(update=changes), *WISCONSIN.entries[1:])}


@pytest.mark.parametrize("path", reference_lists(), ids=lambda path: path.stem)
def test_no_list_of_the_reference_has_an_error(library: Library, path: Path) -> None:
    errors = [
        problem
        for problem in check_list_file(path, library.resolver, date(2026, 12, 31))
        if problem.severity == "error"
    ]
    assert errors == []


TERM = WISCONSIN.entries[0].terms


@pytest.mark.parametrize(
    ("changes", "severity", "place", "words"),
    [
        ({"citation": ""}, "error", "citation", "No citation"),
        ({"authority": ""}, "error", "authority", "whom to ask"),
        ({"url": ""}, "warning", "url", "No address"),
        ({"url": "https://not an address"}, "error", "url", "not a valid web address"),
        ({"url": "https://nowhere"}, "error", "url", "not a valid web address"),
        ({"effective_from": date(203, 6, 1)}, "error", "effective_from", "not a likely day"),
        ({"superseded_on": date(2099, 1, 1)}, "error", "superseded_on", "not a likely day"),
        (
            {"amended": date(2010, 1, 1), "superseded_on": date(2009, 1, 1)},
            "error",
            "amended",
            "superseded",
        ),
        (
            {"effective_from": None, "amended": None},
            "warning",
            "effective_from",
            "reaches back without end",
        ),
        ({"read_copy_date": "last spring"}, "error", "read_copy_date", "is not a valid date"),
        ({"read_copy_date": "2026-13"}, "error", "read_copy_date", "is not a valid date"),
        ({"read_copy_date": "2027"}, "error", "read_copy_date", "lies ahead"),
        ({"how_known": "memory"}, "warning", "how_known", "partly-read"),
        (with_entry(how_known="memory"), "warning", "how_known", "partly-read"),
        (
            with_entry(accepted_name="Myriophyllum spicatumm"),
            "error",
            "entries[0] (Myriophyllum spicatum), accepted_name",
            "is not sure",
        ),
        (
            with_entry(accepted_name="Eichhornia crassipes"),
            "warning",
            "accepted_name",
            "is now Pontederia crassipes",
        ),
        (
            with_entry(accepted_name="Planta ignota"),
            "warning",
            "accepted_name",
            "No plant is known",
        ),
        (with_entry(name_as_listed="Trapa natans"), "warning", "entries[0]", "is filed under"),
        (
            with_entry(name_as_listed="", common_as_listed=""),
            "warning",
            "entries[0]",
            "as the list has it",
        ),
        (
            with_entry(read_url="https://no host/"),
            "error",
            "entries[0] (Myriophyllum spicatum), read_url",
            "not a valid web address",
        ),
        (
            with_entry(terms=(TermModel(kind="unstructured", words="on Sundays"),)),
            "warning",
            "entries[0]",
            "stay conditional",
        ),
        (
            with_entry(terms=(TermModel(kind="only-counties", words="x", counties=("Lucas",)),)),
            "error",
            "entries[0]",
            "Lucas",
        ),
        (
            with_entry(terms=(TermModel(kind="from-date", words="x", on=date(1999, 1, 1)),)),
            "warning",
            "entries[0]",
            "before the list",
        ),
        (
            with_entry(terms=(TermModel(kind="except-taxa", words="x", taxa=("Trapa natens",)),)),
            "error",
            "terms",
            "is not sure",
        ),
        (
            {"entries": (*WISCONSIN.entries, WISCONSIN.entries[0])},
            "error",
            "entries 0, 3",
            "is given 2 times",
        ),
        (
            {
                "classes": (
                    WISCONSIN.classes[0].model_copy(update={"acts": (), "acts_known": False}),
                )
            },
            "warning",
            "classes[0]",
            "not established",
        ),
    ],
)
def test_a_list_with_one_thing_amiss_is_told_of_it(
    tmp_path: Path, library: Library, changes: dict[str, Any], severity: str, place: str, words: str
) -> None:
    matching = [
        problem
        for problem in found(tmp_path, library, **changes)
        if place in problem.place and words in problem.say
    ]
    assert [problem.severity for problem in matching] == [severity]


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ('"release",', '"dumping",', "classes[0] (", "Input should be 'import'"),
        (
            'rank = "species"',
            'rank = "kind"',
            "entries[0] (Myriophyllum spicatum).rank",
            "Input should be 'family'",
        ),
        (
            'jurisdiction = "US-WI"',
            'jurisdiction = "Wisconsin"',
            "jurisdiction",
            "not a valid jurisdiction",
        ),
        ('list_id = "us-wi-nr109"', 'list_id = "US WI"', "list_id", "pattern"),
        ('title = "', 'colour = "green"\ntitle = "', "colour", "Extra inputs"),
    ],
)
def test_what_breaks_the_schema_is_named_by_its_place(
    tmp_path: Path, old: str, new: str, place: str, words: str
) -> None:
    content = to_toml(WISCONSIN)
    assert old in content
    path = tmp_path / "list.toml"
    path.write_text(content.replace(old, new, 1), encoding="utf-8")
    problems = check_list_file(path, reference_resolver(), TODAY)
    assert any(
        place in problem.place and words in problem.say and problem.severity == "error"
        for problem in problems
    ), problems


def test_every_error_of_the_schema_is_named_and_not_the_first_alone(tmp_path: Path) -> None:
    path = tmp_path / "list.toml"
    path.write_text(
        to_toml(WISCONSIN).replace('rank = "species"', 'rank = "kind"'), encoding="utf-8"
    )
    problems = check_list_file(path, reference_resolver(), TODAY)
    assert sum(problem.severity == "error" for problem in problems) == 3


def test_all_that_is_wrong_with_a_file_is_said_at_once(tmp_path: Path, library: Library) -> None:
    """A wrong field, a class that is not there, a wrong county, a wrong day, words without a term."""
    text = to_toml(WISCONSIN).replace('rank = "species"', 'rank = "kind"', 1)
    text = text.replace('citation = "', 'citation = "" #', 1)
    text = text.replace(
        'jurisdiction = "US-WI"', 'jurisdiction = "US-WI"\nread_copy_date = "2026-13"', 1
    )
    text = (
        text.replace('\nread_copy_date = ""', "", 1)
        + """
[[entries]]
class = "Banned"
name_as_listed = "Trapa natans"
accepted_name = "Trapa natans"
rank = "species"
how_known = "read"
area = "Nowhere County"
exceptions = "except in Fayette County; except as food"
terms = [ { kind = "only-counties", words = "Nowhere County", counties = ["Nowhere"] } ]
"""
    )
    path = tmp_path / "list.toml"
    path.write_text(text, encoding="utf-8")
    said = " ".join(
        f"{problem.place}: {problem.say}"
        for problem in check_list_file(path, library.resolver, TODAY)
        if problem.severity == "error"
    )
    for words in (
        "rank",
        "citation: No citation",
        "read_copy_date: '2026-13' is not a valid date",
        "'Banned' is none of the classes",
        "'Nowhere' is not known",
        "conditional: except in Fayette County.",
        "conditional: except as food.",
    ):
        assert words in said


@pytest.mark.parametrize("content", [b"\xff\xfe", b"a = "])
def test_a_file_that_cannot_be_read_is_one_error(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "list.toml"
    path.write_bytes(content)
    assert [
        (problem.severity, problem.place)
        for problem in check_list_file(path, reference_resolver(), TODAY)
    ] == [("error", "file")]


def test_names_are_checked_against_the_reference_where_no_store_is_given(tmp_path: Path) -> None:
    problems = check_list_file(
        written(tmp_path, **with_entry(accepted_name="Myriophyllum spicatumm")),
        reference_resolver(),
        TODAY,
    )
    assert any("may mean Myriophyllum spicatum" in problem.say for problem in problems)


def test_two_files_of_a_list_are_compared_and_the_changes_give_the_second(tmp_path: Path) -> None:
    before = written(tmp_path, None, "a.toml", **with_entry(how_known="memory"))
    after = written(
        tmp_path, None, "b.toml", entries=WISCONSIN.entries[:2], read_copy_date="2026-05-01"
    )
    changes = diff_list_files(before, after)
    assert [change.kinds for change in changes.entries] == [("removed",), ("reverified",)]
    assert [change.field for change in changes.header] == ["read_copy_date"]
    assert apply(changes, list_version(read_list_file(before))) == list_version(
        read_list_file(after)
    )


def test_files_of_two_lists_are_not_compared(tmp_path: Path) -> None:
    with pytest.raises(BadRequest, match="two lists"):
        diff_list_files(written(tmp_path), FOLDER / "us-wi-nr40.toml")


def test_a_county_that_there_is_not_is_named(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        **with_entry(terms=(TermModel(kind="only-counties", words="x", counties=("Lucas",)),)),
    )
    with pytest.raises(BadFile, match="Lucas"):
        diff_list_files(path, path)


@pytest.mark.parametrize("path", reference_lists(), ids=lambda path: path.stem)
def test_a_list_as_a_file_and_as_stored_read_the_same(library: Library, path: Path) -> None:
    """Save that the store may know a plant under a later name."""
    stored = next(version for version in library.law.versions if version.list_id == path.stem)
    plain = list_version(read_list_file(path))
    assert [(entry.name_as_listed, entry.accepted_name, entry.rank) for entry in plain.entries] == [
        (entry.name_as_listed, entry.accepted_name, entry.rank) for entry in stored.entries
    ]
    assert [[term.counties for term in entry.terms] for entry in plain.entries] == [
        [term.counties for term in entry.terms] for entry in stored.entries
    ]


def test_a_list_shown_reads_in_the_order_of_the_statute(library: Library) -> None:
    """Wis. Admin. Code §§ NR 40.04, NR 40.05."""
    version = next(listed for listed in library.law.versions if listed.list_id == "us-wi-nr40")
    text = show_list(version)
    assert text.startswith(
        "INVASIVE SPECIES: PROHIBITED AND RESTRICTED CATEGORIES\nWis. Admin. Code §§ NR 40.04, NR 40.05 (regulation, Wisconsin)\n"
    )
    numbers = [
        int(line.split(".")[0])
        for line in text.splitlines()
        if line.startswith("   ") and line.strip()[:1].isdigit() and ". " in line
    ]
    assert numbers == list(range(1, len(version.entries) + 1))
    assert (
        text.index("== Prohibited ==")
        < text.index("Didymosphenia geminata")
        < text.index("== Restricted ==")
    )
    assert "-> except-waters (for plant, release): not in Lake Superior" in text
    assert "Restricts: sell, buy, give, transport, plant, release." in text


def test_a_list_shown_says_what_is_from_memory(library: Library) -> None:
    version = next(
        listed for listed in library.law.versions if listed.list_id == "us-ny-575-prohibited"
    )
    assert show_list(version).count("[FROM MEMORY, not seen in the text]") >= len(
        [e for e in version.entries if e.how_known == "memory"]
    )


def test_lines_of_a_list_shown_fit_a_page(library: Library) -> None:
    for version in library.law.versions:
        assert all(
            len(line) <= 100 or " " not in line.strip() for line in show_list(version).splitlines()
        )


def test_what_to_verify_next_says_what_to_read(library: Library) -> None:
    items = todo(library, [], TODAY)
    first = next(
        item
        for item in items
        if item.list_id == "us-ma-prohibited-plants" and item.kind == "entries-by-memory"
    )
    assert "M.G.L. c. 128" in first.say
    assert "Hydrilla verticillata" in first.entries
    assert {item.kind for item in items} == {
        "entries-by-memory",
        "acts-not-established",
        "list-in-part",
        "old-reading",
    }


def test_stock_lines_raise_what_they_rest_on(library: Library) -> None:
    """New York's prohibited list stands from memory, Trapa natans and Hydrilla verticillata on
    it.
    """
    plain, stocked = (
        next(
            item
            for item in todo(library, labels, TODAY)
            if (item.list_id, item.kind) == ("us-ny-575-prohibited", "entries-by-memory")
        )
        for labels in ([], ["Trapa natans 4in", "Hydrilla verticillata", "Nymphaea odorata"])
    )
    assert (plain.stock_lines, stocked.stock_lines) == (0, 2)
    assert stocked.weight == plain.weight + 2 * 3.0


def test_a_list_read_in_a_current_copy_and_held_whole_leaves_little_to_do(
    library: Library, tmp_path: Path
) -> None:
    kinds = {item.kind for item in todo(library, [], TODAY) if item.list_id == "us-wi-nr109"}
    assert kinds == {"old-reading"}


def test_reading_a_list_takes_it_off_what_is_to_do(tmp_path: Path, reference_path: Path) -> None:
    """From memory to read with the workshop alone: check, compare, load, and nothing is left but
    its age.
    """
    import shutil

    from data_loaders.regulations.own_lists import load_list_files
    from service.store.database import Build

    source = read_list_file(FOLDER / "us-ny-water-chestnut.toml")
    entries = tuple(entry.model_copy(update={"how_known": "read"}) for entry in source.entries)
    classes = tuple(
        list_class.model_copy(update={"how_known": "read", "acts_known": True})
        for list_class in source.classes
    )
    changes = {
        "how_known": "read",
        "read_copy_date": "2026-05-01",
        "entries": entries,
        "classes": classes,
    }
    path = written(tmp_path, source, "us-ny-water-chestnut.toml", **changes)
    store = Path(shutil.copy(reference_path, tmp_path / "store.db"))
    before = {
        item.kind
        for item in todo(Library(Build(store)), [], TODAY)
        if item.list_id == source.list_id
    }
    assert {
        kind
        for change in diff_list_files(FOLDER / path.name, path).entries
        for kind in change.kinds
    } == {"acts-changed", "reverified"}
    load_list_files(store, [path])
    after = {
        item.kind
        for item in todo(Library(Build(store)), [], TODAY)
        if item.list_id == source.list_id
    }
    assert ("entries-by-memory" in before, after) == (True, {"old-reading"})


def test_the_lists_to_verify_begin_with_those_whose_address_can_be_fetched(
    library: Library,
) -> None:
    items = todo(library, [], TODAY)
    first = [item.fetchable for item in items]
    assert first == sorted(first, reverse=True)
    assert any(first)
    for fetchable in (True, False):
        weights = [item.weight for item in items if item.fetchable == fetchable]
        assert weights == sorted(weights, reverse=True)
