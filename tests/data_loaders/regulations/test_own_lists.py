"""Lists of one's own: messy tables understood row by row, doubtful names kept out until chosen,
loads that may be repeated.

The lists, places and rules here are invented; the plants are real.
"""

import shutil
from collections.abc import Sequence
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from data_loaders.build import file_sha256
from data_loaders.regulations.from_tables import to_toml
from data_loaders.regulations.listfile import read_list_file
from data_loaders.regulations.load import FOLDER
from data_loaders.regulations.own_lists import OwnListReport, load_list_files, load_own_list
from data_loaders.regulations.own_rows import acts_of
from service.errors import BadFile, BadRequest, StoreMissing, UnknownValue
from service.regulation.finding import Finding, Question
from service.regulation.for_name import find_for_name
from service.regulation.law import LawBook
from service.store.database import Build
from service.store.law import read_law
from service.store.library import Library
from service.values.vocabulary import ACTS, OUTCOMES, Act, CountyFips, Jurisdiction

ON = date(2026, 6, 1)


@pytest.fixture
def store(reference_path: Path, tmp_path: Path) -> Path:
    """A reference store of one's own to load into."""
    return Path(shutil.copy(reference_path, tmp_path / "store.db"))


_held: dict[str, Library] = {}


@pytest.fixture(autouse=True)
def _share_names(library: Library) -> None:
    """Names are read once for all tests; making a resolver takes a second."""
    _held["reference"] = library


def load(store: Path, file: Path, **changes: Any) -> OwnListReport:
    given: dict[str, Any] = {
        "jurisdiction": "US-WI",
        "title": "Maple County pond plants",
        "kind": "ordinance",
        "acts": ("sell",),
        "resolver": _held["reference"].resolver,
        **changes,
    }
    return load_own_list(store, file, **given)


def law_of(store: Path) -> LawBook:
    return read_law(Build(store).connection)


def written(
    folder: Path, content: str | bytes, name: str = "list.csv", encoding: str = "utf-8"
) -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
    return path


def asked(store: Path, label: str, place: str, act: Act, county: str | None = None) -> Finding:
    naming = _held["reference"].naming(_held["reference"].resolver.resolve(label))
    question = Question(
        Jurisdiction(place), act, ON, CountyFips(county) if county else None, movement="within"
    )
    return find_for_name(law_of(store), naming, question)


MESSY_LINES: Sequence[tuple[str, str]] = (
    ("﻿Maple County pond plant ordinance 12.4 (invented);;;;", "utf-8"),
    (";;;;", "utf-8"),
    ("Plant;;;Rule;", "utf-8"),
    ("Botanical name;Common;Size sold;Restricted acts;County", "utf-8"),
    ("Class A - not to be sold or kept;;;;", "utf-8"),
    ("Hydrilla verticillata*;hydrilla;;sale, possession;Dane", "utf-8"),
    ("Eichornia crassipes;water hyacinth;;sale;Dane", "utf-8"),
    ("Trapa natans;“water chestnut”;;sale;Dane and Rock", "cp1252"),
    (";frogbit;;juggling;", "utf-8"),
    ("Ludwigia spp.;water primrose – any;;all;", "cp1252"),
    ("Botanical name;Common;Size sold;Restricted acts;County", "utf-8"),
    ("Class B;;;;", "utf-8"),
    ("", "utf-8"),
    (";purple loosestrife;;sell/plant;Nowhere", "utf-8"),
    ("Iris pseudacorus;yellow flag;;no sale;55025", "utf-8"),
    ("* Updated each spring by the county board.;;;;", "utf-8"),
)
MESSY = b"\r\n".join(line.encode(encoding) for line, encoding in MESSY_LINES)


def test_a_messy_list_is_understood_row_by_row_before_anything_is_stored(
    store: Path, tmp_path: Path
) -> None:
    before = file_sha256(store)
    report = load(store, written(tmp_path, MESSY), dry_run=True)
    assert [(row.number, row.kind) for row in report.rows] == [
        (5, "section"), (6, "entry"), (7, "doubtful-name"), (8, "entry"), (9, "unreadable"), (10, "entry"), (11, "repeated-header"),
        (12, "section"), (13, "blank"), (14, "unreadable"), (15, "entry"), (16, "footnote"),
    ]  # fmt: skip
    assert (report.outcome, file_sha256(store)) == ("dry-run", before)


def test_a_messy_list_tells_how_it_was_written_and_which_column_was_taken_for_what(
    store: Path, tmp_path: Path
) -> None:
    report = load(store, written(tmp_path, MESSY), dry_run=True)
    assert report.written_as == "UTF-8 with byte order mark, separated by semicolon"
    assert report.notes == (
        "read as Windows-1252, not being UTF-8: lines 8, 10; check names with accents",
    )
    assert report.columns == {
        "scientific": "Botanical name",
        "common": "Common",
        "acts": "Restricted acts",
        "county": "County",
    }
    assert report.passed_over == ("Size sold",)


def test_each_row_of_a_messy_list_says_what_it_was_taken_for(store: Path, tmp_path: Path) -> None:
    rows = {row.number: row for row in load(store, written(tmp_path, MESSY), dry_run=True).rows}
    assert (rows[6].accepted_name, rows[6].class_name, rows[6].acts) == (
        "Hydrilla verticillata", "Class A - not to be sold or kept", ("sell", "possess"),
    )  # fmt: skip
    assert (rows[8].common, rows[8].counties) == (
        "“water chestnut”",
        ("Dane County", "Rock County"),
    )
    assert (rows[10].accepted_name, rows[10].acts) == ("Ludwigia", ACTS)
    assert rows[10].entry is not None
    assert rows[10].entry.rank == "genus"
    assert (rows[15].class_name, rows[15].counties) == ("Class B", ("Dane County",))


def test_a_doubtful_or_unreadable_row_says_what_to_do(store: Path, tmp_path: Path) -> None:
    rows = {row.number: row for row in load(store, written(tmp_path, MESSY), dry_run=True).doubtful}
    assert set(rows) == {7, 9, 14}
    assert (rows[7].candidates, rows[7].match) == (("Pontederia crassipes",), "spelling")
    assert "Act 'juggling' is not known" in rows[9].say
    assert "County of Wisconsin 'Nowhere' is not known" in rows[14].say


def test_what_is_doubtful_is_not_stored(store: Path, tmp_path: Path) -> None:
    report = load(store, written(tmp_path, MESSY))
    assert report.outcome == "added"
    stored = [
        version
        for version in law_of(store).lists_of(Jurisdiction("US-WI"))
        if version.list_id == report.list_id
    ]
    assert [entry.accepted_name for entry in stored[0].entries] == [
        "Hydrilla verticillata",
        "Trapa natans",
        "Ludwigia",
        "Iris pseudacorus",
    ]
    assert stored[0].completeness == "partial"


def test_a_settled_row_is_stored_under_the_name_a_person_gave(store: Path, tmp_path: Path) -> None:
    file = written(
        tmp_path,
        "botanical name,common\nEichornia crassipes,hyacinth\nNymphaea,lily\nPlanta ignota,mystery\nwater lily,\n",
    )
    report = load(store, file, chosen={2: "Pontederia crassipes", 4: "Planta ignota", 5: ""})
    assert [(row.number, row.kind, row.accepted_name) for row in report.rows] == [
        (2, "entry", "Pontederia crassipes"),
        (3, "entry", "Nymphaea"),
        (4, "entry", "Planta ignota"),
        (5, "left-out", ""),
    ]
    assert "does not know yet" in report.rows[2].say
    library = Library(Build(store))
    naming = library.naming(library.resolver.resolve("Planta ignota"))
    assert (
        find_for_name(library.law, naming, Question(Jurisdiction("US-WI"), "sell", ON)).outcome
        == "prohibited"
    )


@pytest.mark.parametrize(
    ("chosen", "message"),
    [
        ({99: "Trapa natans"}, "99"),
        ({1: "Trapa natans"}, "1"),
        ({2: "the floating one"}, "row 2|Row 2"),
    ],
)
def test_a_decision_that_fits_no_row_is_refused(
    store: Path, tmp_path: Path, chosen: dict[int, str], message: str
) -> None:
    with pytest.raises(BadRequest, match=message):
        load(store, written(tmp_path, "botanical name\nEichornia crassipes\n"), chosen=chosen)


def test_a_cultivar_is_asked_about_since_an_entry_reaches_the_species(
    store: Path, tmp_path: Path
) -> None:
    report = load(
        store, written(tmp_path, "botanical name\nLysimachia nummularia 'Aurea'\n"), dry_run=True
    )
    assert report.rows[0].kind == "doubtful-name"
    assert "all of Lysimachia nummularia" in report.rows[0].say


def test_an_ordinance_is_law_in_its_county_alone(store: Path, tmp_path: Path) -> None:
    load(
        store,
        written(tmp_path, "botanical name\nNymphaea odorata\n"),
        county="Dane",
        citation="Invented Code 12.4",
    )
    answers = [
        asked(store, "Nymphaea odorata", "US-WI", "sell", county).outcome
        for county in ("55025", "55007", None)
    ]
    assert answers == ["prohibited", "no-entry-found", "conditional"]
    finding = asked(store, "Nymphaea odorata", "US-WI", "sell", "55025")
    assert (finding.citations[0].citation, finding.verified, finding.own_rules) == (
        "Invented Code 12.4",
        False,
        (),
    )


def test_a_rule_that_is_no_law_stands_apart(store: Path, tmp_path: Path) -> None:
    file = written(tmp_path, "plant,reason\nwater hyacinth,spreads\nNymphaea odorata,too large\n")
    load(store, file, jurisdiction="US-TN", kind="own-rule", title="Buyer's list (invented)")
    finding = asked(store, "Nymphaea odorata", "US-TN", "sell")
    assert finding.outcome == "no-entry-found"
    assert [(rule.title, rule.outcome) for rule in finding.own_rules] == [
        ("Buyer's list (invented)", "prohibited")
    ]


@settings(deadline=None, max_examples=8)
@given(
    st.lists(
        st.sampled_from(["Trapa natans", "Nymphaea odorata", "Salvinia spp.", "Iris pseudacorus"]),
        min_size=1,
        max_size=4,
        unique=True,
    ),
    st.lists(st.sampled_from(ACTS), unique=True, max_size=4),
    st.sampled_from(["ordinance", "own-rule"]),
)
def test_an_imported_list_can_only_make_an_answer_stricter(
    tmp_path_factory: pytest.TempPathFactory,
    reference_path: Path,
    plants: list[str],
    acts: list[Act],
    kind: str,
) -> None:
    folder = tmp_path_factory.mktemp("own")
    store = Path(shutil.copy(reference_path, folder / "store.db"))
    report = load(
        store,
        written(folder, "\n".join(["plant", *plants])),
        kind=kind,
        acts=tuple(acts),
        jurisdiction="US-OH",
    )
    library = _held["reference"]
    added = law_of(store)
    for label in ("Trapa natans", "Nymphaea odorata", "Salvinia minima", "Typha latifolia"):
        for act in ("sell", "possess"):
            naming = library.naming(library.resolver.resolve(label))
            question = Question(Jurisdiction("US-OH"), act, ON)
            was, now = (find_for_name(book, naming, question) for book in (library.law, added))
            assert OUTCOMES.index(now.outcome) <= OUTCOMES.index(was.outcome)
            assert kind == "ordinance" or now.outcome == was.outcome
            assert all(rule.list_id == report.list_id for rule in now.own_rules)


def test_loading_the_same_list_again_leaves_the_store_untouched(
    store: Path, tmp_path: Path
) -> None:
    file = written(tmp_path, "botanical name\nTrapa natans\n")
    first = load(store, file)
    after_first = file_sha256(store)
    again = load(store, file)
    assert (first.outcome, again.outcome, file_sha256(store)) == ("added", "unchanged", after_first)


def test_a_changed_list_takes_the_place_of_its_earlier_load(store: Path, tmp_path: Path) -> None:
    load(store, written(tmp_path, "botanical name\nTrapa natans\nNymphaea odorata\n"))
    report = load(store, written(tmp_path, "botanical name\nNymphaea odorata\n"))
    assert report.outcome == "replaced"
    stored = [listed for listed in law_of(store).versions if listed.list_id == report.list_id]
    assert [[entry.accepted_name for entry in version.entries] for version in stored] == [
        ["Nymphaea odorata"]
    ]


def test_a_list_from_another_day_is_a_new_version_beside_the_old(
    store: Path, tmp_path: Path
) -> None:
    file = written(tmp_path, "botanical name\nTrapa natans\n")
    load(store, file, effective_from=date(2020, 1, 1))
    report = load(store, file, effective_from=date(2025, 1, 1))
    assert report.outcome == "new-version"
    stored = [version for version in law_of(store).versions if version.list_id == report.list_id]
    assert [(version.effective_from, version.superseded_on) for version in stored] == [
        (date(2020, 1, 1), date(2025, 1, 1)),
        (date(2025, 1, 1), None),
    ]


TABLE = "Scientific name\tCommon name\tNotes\nTrapa natans\tmâcre nageante\tété\n"


@pytest.mark.parametrize(
    ("content", "written_as"),
    [
        (TABLE.encode(), "UTF-8, separated by tab"),
        (TABLE.encode("utf-8-sig"), "UTF-8 with byte order mark, separated by tab"),
        (TABLE.encode("cp1252"), "Windows-1252, separated by tab"),
        (TABLE.encode("utf-16"), "UTF-16, separated by tab"),
        (b"\xfe\xff" + TABLE.encode("utf-16-be"), "UTF-16, separated by tab"),
        (TABLE.encode("utf-16-le"), "UTF-16 without byte order mark, separated by tab"),
        (TABLE.replace("\t", "|").encode(), "UTF-8, separated by bar"),
        (TABLE.replace("\t", ";").replace("\n", "\r\n").encode(), "UTF-8, separated by semicolon"),
        (TABLE.replace("\n", "\r").encode(), "UTF-8, separated by tab"),
    ],
)
def test_text_is_read_however_it_was_saved(
    store: Path, tmp_path: Path, content: bytes, written_as: str
) -> None:
    report = load(store, written(tmp_path, content), dry_run=True)
    assert report.written_as == written_as
    assert (report.rows[0].listed, report.rows[0].common) == ("Trapa natans", "mâcre nageante")
    assert report.rows[0].entry is not None
    assert report.rows[0].entry.condition == "été"


def test_a_quoted_cell_may_run_over_lines_and_rows_keep_the_number_of_their_first_line(
    store: Path, tmp_path: Path
) -> None:
    file = written(
        tmp_path, 'botanical name,notes\n"Trapa\nnatans","first\nsecond"\nNymphaea odorata,\n'
    )
    report = load(store, file, dry_run=True)
    assert [(row.number, row.accepted_name) for row in report.rows] == [
        (2, "Trapa natans"),
        (5, "Nymphaea odorata"),
    ]


@pytest.mark.parametrize(
    ("header", "field"),
    [
        ("BOTANICAL NAME", "scientific"),
        ("scientificName", "scientific"),
        ("Species (Latin)", "scientific"),
        ("Vernacular name(s)", "common"),
        ("Weed", "name"),
        ("Item description", None),
    ],
)
def test_columns_of_names_are_known_by_many_titles(
    store: Path, tmp_path: Path, header: str, field: str | None
) -> None:
    file = written(tmp_path, f"{header},qty\nTrapa natans,3\n")
    if field is None:
        with pytest.raises(BadFile, match="no row looks like a header"):
            load(store, file, dry_run=True)
        assert (
            load(store, file, dry_run=True, mapping={"name": header}).rows[0].accepted_name
            == "Trapa natans"
        )
    else:
        assert load(store, file, dry_run=True).columns == {field: header}


def test_a_list_without_a_header_is_read_by_column_number_and_loses_no_row(
    store: Path, tmp_path: Path
) -> None:
    file = written(tmp_path, "1,Trapa natans\n2,Nymphaea odorata\n")
    report = load(store, file, dry_run=True, mapping={"scientific": "2"})
    assert [row.accepted_name for row in report.rows] == ["Trapa natans", "Nymphaea odorata"]


@pytest.mark.parametrize(
    ("mapping", "error"),
    [({"colour": "qty"}, UnknownValue), ({"scientific": "no such column"}, BadFile)],
)
def test_a_mapping_that_fits_nothing_is_refused(
    store: Path, tmp_path: Path, mapping: dict[str, str], error: type[Exception]
) -> None:
    with pytest.raises(error):
        load(store, written(tmp_path, "botanical name,qty\nTrapa natans,3\n"), mapping=mapping)


def workbook(*rows: Sequence[object], merged: Sequence[str] = (), title: str = "Plants") -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = title
    for row in rows:
        sheet.append(list(row))
    for area in merged:
        sheet.merge_cells(area)
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_a_workbook_with_a_merged_header_and_a_merged_class_is_read(
    store: Path, tmp_path: Path
) -> None:
    content = workbook(
        ["Do-not-plant list (invented), spring 2026", None, None, None],
        ["Name", None, "Rule", None],
        ["Botanical", "Common", "Class", "FIPS"],
        ["Trapa natans", "water chestnut", "Never", 55025],
        ["Nymphaea odorata", "water lily", None, 55007.0],
        ["Iris pseudacorus", "yellow flag", "Ask first", None],
        ["Last revised in March.", None, None, None],
        merged=("A1:D1", "A2:B2", "C2:D2", "C4:C5", "A7:D7"),
    )
    report = load(store, written(tmp_path, content, "list.xlsx"), dry_run=True)
    assert report.written_as == "workbook, sheet 'Plants'"
    assert [(row.number, row.kind, row.class_name, row.counties) for row in report.rows] == [
        (4, "entry", "Never", ("Dane County",)),
        (5, "entry", "Never", ("Bayfield County",)),
        (6, "entry", "Ask first", ()),
        (7, "footnote", "", ()),
    ]


def test_dates_of_a_workbook_make_an_entry_hold_from_then_on(store: Path, tmp_path: Path) -> None:
    content = workbook(
        ["Scientific name", "Effective"],
        ["Nymphaea odorata", date(2027, 1, 1)],
        ["Iris versicolor", "1/31/2026"],
    )
    load(store, written(tmp_path, content, "list.xlsx"))
    assert [
        asked(store, label, "US-WI", "sell").outcome
        for label in ("Nymphaea odorata", "Iris versicolor")
    ] == [
        "no-entry-found",
        "prohibited",
    ]


def test_several_rules_of_one_class_keep_their_acts_apart(store: Path, tmp_path: Path) -> None:
    report = load(
        store,
        written(
            tmp_path,
            "plant,class,acts\nTrapa natans,Bad,sell\nNymphaea odorata,Bad,plant\nIris versicolor,Other,\n",
        ),
    )
    assert report.model is not None
    assert [(list_class.name, list_class.acts) for list_class in report.model.classes] == [
        ("Bad (sell)", ("sell",)),
        ("Bad (plant)", ("plant",)),
        ("Other", ("sell",)),
    ]


def test_exceptions_and_conditions_keep_their_words_and_leave_the_answer_conditional(
    store: Path, tmp_path: Path
) -> None:
    load(
        store,
        written(
            tmp_path, "plant,exceptions\nNymphaea odorata,members of the garden club on Sundays\n"
        ),
    )
    finding = asked(store, "Nymphaea odorata", "US-WI", "sell")
    assert (finding.outcome, finding.citations[0].exceptions) == (
        "conditional",
        "members of the garden club on Sundays",
    )


@pytest.mark.parametrize(
    ("words", "acts"),
    [
        ("sale; transport", ("sell", "transport")),
        ("No sale, purchase or possession", ("sell", "buy", "possess")),
        ("all", ACTS),
        ("Planting / release", ("plant", "release")),
        ("import & export", ("import", "export")),
    ],
)
def test_acts_are_read_as_people_write_them(words: str, acts: tuple[Act, ...]) -> None:
    assert acts_of(words) == acts


def test_an_act_that_nobody_knows_is_named() -> None:
    with pytest.raises(UnknownValue, match="juggling"):
        acts_of("sell, juggling")


@pytest.mark.parametrize(
    ("content", "name", "message"),
    [
        (b"", "list.csv", "no text"),
        (b"PK\x03\x04rest", "list.csv", "zip file, not an Excel workbook"),
        (b"not a workbook", "list.xlsx", "not a workbook"),
        (b"a\0b,c\nd,e\n", "list.csv", "NUL"),
        (b"just some words\nand more\n", "list.csv", "no row looks like a header"),
    ],
)
def test_a_file_that_is_no_list_is_refused_by_name_and_the_store_stays(
    store: Path, tmp_path: Path, content: bytes, name: str, message: str
) -> None:
    before = file_sha256(store)
    with pytest.raises(BadFile, match=message) as refused:
        load(store, written(tmp_path, content, name))
    assert (refused.value.file, file_sha256(store)) == (name, before)


@pytest.mark.parametrize(
    "changes",
    [
        {"jurisdiction": "US-ZZ"},
        {"kind": "statute"},
        {"acts": ("juggle",)},
        {"title": " "},
        {"jurisdiction": "US"},
        {"county": "Nowhere"},
    ],
)
def test_what_is_asked_wrongly_is_refused(
    store: Path, tmp_path: Path, changes: dict[str, object]
) -> None:
    with pytest.raises(BadRequest):
        load(store, written(tmp_path, "plant\nTrapa natans\n"), **changes)


def test_a_list_needs_a_store(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing):
        load(tmp_path / "none.db", written(tmp_path, "plant\nTrapa natans\n"))


def test_a_list_with_nothing_sure_stores_nothing(store: Path, tmp_path: Path) -> None:
    before = file_sha256(store)
    report = load(store, written(tmp_path, "plant\nzzzz qqqq\n"))
    assert (report.model, report.outcome, file_sha256(store)) == (None, "dry-run", before)


WISCONSIN = FOLDER / "us-wi-nr109.toml"


def changed(
    folder: Path, name: str = "changed.toml", source: Path = WISCONSIN, **changes: object
) -> Path:
    model = read_list_file(source).model_copy(update=changes)
    return written(folder, to_toml(model), name)


def test_a_list_file_already_held_is_left_alone(store: Path) -> None:
    before = file_sha256(store)
    (loaded,) = load_list_files(store, [WISCONSIN])
    assert (loaded.outcome, file_sha256(store)) == ("unchanged", before)


def test_a_list_file_of_another_day_is_a_new_version_and_the_old_one_ends_there(
    store: Path, tmp_path: Path
) -> None:
    (loaded,) = load_list_files(
        store, [changed(tmp_path, effective_from=date(2026, 1, 1), title="Renamed (invented)")]
    )
    assert loaded.outcome == "new-version"
    stored = [version for version in law_of(store).versions if version.list_id == "us-wi-nr109"]
    assert [(version.effective_from, version.superseded_on) for version in stored] == [
        (date(2003, 6, 1), date(2026, 1, 1)),
        (date(2026, 1, 1), None),
    ]


def test_a_corrected_file_of_the_same_version_takes_its_place(store: Path, tmp_path: Path) -> None:
    (loaded,) = load_list_files(store, [changed(tmp_path, read_copy_date="2026-05-01")])
    assert loaded.outcome == "replaced"
    stored = [version for version in law_of(store).versions if version.list_id == "us-wi-nr109"]
    assert [version.read_copy_date for version in stored] == ["2026-05-01"]


def test_list_files_are_loaded_all_or_none(store: Path, tmp_path: Path) -> None:
    before = file_sha256(store)
    broken = written(tmp_path, "list_id = 3", "broken.toml")
    with pytest.raises(BadFile, match="broken"):
        load_list_files(store, [changed(tmp_path, effective_from=date(2026, 1, 1)), broken])
    assert file_sha256(store) == before


def test_two_files_of_one_version_are_refused(store: Path, tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="same version"):
        load_list_files(store, [changed(tmp_path, "a.toml"), changed(tmp_path, "b.toml")])


def test_a_rule_of_ones_own_cannot_take_the_place_of_a_law(store: Path, tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="already a regulation of US-WI"):
        load_list_files(
            store, [changed(tmp_path, kind="own-rule", effective_from=date(2026, 1, 1))]
        )
    with pytest.raises(BadFile, match="already a regulation"):
        load(
            store,
            written(tmp_path, "plant\nTrapa natans\n"),
            kind="own-rule",
            list_id="us-wi-nr109",
        )


def test_a_list_file_of_ones_own_has_its_names_put_to_the_resolver(
    store: Path, tmp_path: Path
) -> None:
    model = read_list_file(WISCONSIN)
    entries = (
        model.entries[0].model_copy(update={"accepted_name": "Lythrum salicarria"}),
        *model.entries[1:],
    )
    own: dict[str, Any] = {
        "list_id": "garden-club",
        "kind": "own-rule",
        "entries": entries,
        "title": "Garden club (invented)",
    }
    file = changed(tmp_path, **own)
    report = load(store, file, kind="own-rule", dry_run=True)
    assert [row.kind for row in report.rows].count("doubtful-name") == 1
    chosen = load(store, file, kind="own-rule", chosen={1: "Lythrum salicaria"})
    assert (chosen.outcome, chosen.list_id) == ("added", "garden-club")
    with pytest.raises(BadFile, match="own-rule"):
        load(store, file, kind="ordinance")
