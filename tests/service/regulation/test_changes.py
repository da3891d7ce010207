"""Every kind of change, changes applied again, changes over a span of days, plants touched."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import BadRequest
from service.regulation.changes import (
    ENTRY_CHANGE_KINDS,
    EntryChangeKind,
    HeaderChange,
    apply,
    changes_between,
    compare,
    touched,
)
from service.regulation.law import Entry, ListVersion, Term
from service.store.library import Library
from service.values.vocabulary import Jurisdiction, PlantId
from tests.service.regulation.builders import OHIO, a_class, a_list, a_subject, an_entry, law

PLAIN = an_entry()
OTHER = an_entry("hydrilla-verticillata")
TWO_CLASSES = (a_class("A"), a_class("B", acts=("sell", "import"), permit="no"))


def kinds(before: Entry | None, after: Entry | None, **changes: Any) -> tuple[EntryChangeKind, ...]:
    """Kinds of the one change between two lists that hold one entry or none beside another that
    stays.
    """
    versions = [
        a_list(*([one_entry] if one_entry else []), OTHER, **{"classes": TWO_CLASSES, **changes})
        for one_entry in (before, after)
    ]
    found = compare(*versions).entries
    assert len(found) == 1
    return found[0].kinds


CASES: dict[EntryChangeKind, tuple[Entry | None, Entry | None]] = {
    "added": (None, PLAIN),
    "removed": (PLAIN, None),
    "class-changed": (PLAIN, replace(PLAIN, class_name="B")),
    "scope-changed": (PLAIN, replace(PLAIN, scope=("hybrids",))),
    "area-changed": (PLAIN, replace(PLAIN, area="Lucas County")),
    "exceptions-changed": (PLAIN, replace(PLAIN, exceptions="dead plants")),
    "condition-changed": (PLAIN, replace(PLAIN, condition="research permit only")),
    "terms-changed": (PLAIN, replace(PLAIN, terms=(Term("doubt", "not read"),))),
    "name-changed": (PLAIN, replace(PLAIN, name_as_listed="Trapa bispinosa")),
    "reverified": (replace(PLAIN, how_known="memory"), PLAIN),
    "source-changed": (PLAIN, replace(PLAIN, read_url="https://example.org/law")),
}


@pytest.mark.parametrize(("kind", "pair"), CASES.items())
def test_an_entry_that_differs_in_one_thing_has_one_kind_of_change(
    kind: EntryChangeKind, pair: tuple[Entry | None, Entry | None]
) -> None:
    assert kinds(*pair) == (kind,)


def test_a_change_of_area_with_its_terms_is_told_as_a_change_of_area() -> None:
    term = Term("only-counties", "Lucas County")
    assert kinds(PLAIN, replace(PLAIN, area="Lucas County", terms=(term,))) == ("area-changed",)


def test_an_entry_that_changes_in_several_things_tells_all() -> None:
    after = replace(PLAIN, class_name="B", area="Lucas County", how_known="memory")
    assert kinds(PLAIN, after) == ("class-changed", "area-changed", "reverified")


def test_a_class_that_bars_other_acts_changes_each_entry_in_it() -> None:
    before = a_list(PLAIN, OTHER, classes=(a_class(acts=("sell",)),))
    after = a_list(PLAIN, OTHER, classes=(a_class(acts=("sell", "possess"), permit="yes"),))
    changes = compare(before, after)
    assert [entry.kinds for entry in changes.entries] == [("acts-changed", "permit-changed")] * 2
    assert [change.kinds for change in changes.classes] == [("acts-changed", "permit-changed")]


def test_an_entry_moved_in_the_order_of_the_list_is_no_change_of_law() -> None:
    third = an_entry("salvinia-molesta")
    changes = compare(a_list(PLAIN, OTHER, third), a_list(OTHER, third, PLAIN))
    assert [
        (entry.entry.accepted_name, entry.kinds, entry.alters_law) for entry in changes.entries
    ] == [("Trapa natans", ("moved",), False)]


def test_a_plant_relisted_under_another_name_is_the_same_entry() -> None:
    before = an_entry("pontederia-crassipes", name_as_listed="Eichhornia crassipes")
    after = replace(before, name_as_listed="Pontederia crassipes")
    assert kinds(before, after) == ("name-changed",)


def test_every_kind_of_change_is_shown_here() -> None:
    assert {*CASES, "acts-changed", "permit-changed", "moved"} == set(ENTRY_CHANGE_KINDS)


def test_what_changes_in_the_list_itself_is_named_field_by_field() -> None:
    before, after = (
        a_list(how_known="memory"),
        a_list(how_known="read", read_copy_date="2026-05-01"),
    )
    assert compare(before, after).header == (
        HeaderChange("how_known", "memory", "read"),
        HeaderChange("read_copy_date", "", "2026-05-01"),
    )


def test_two_lists_are_not_compared() -> None:
    with pytest.raises(BadRequest, match="two lists"):
        compare(a_list(), a_list(list_id="us-oh-other"))


def test_changes_are_not_applied_to_a_version_they_were_not_found_on() -> None:
    changes = compare(a_list(PLAIN), a_list(replace(PLAIN, area="Lucas County")))
    with pytest.raises(BadRequest, match="another version"):
        apply(changes, a_list(OTHER))


ENTRIES = st.builds(
    an_entry,
    st.sampled_from(["trapa-natans", "hydrilla-verticillata", "salvinia-molesta"]),
    class_name=st.sampled_from(["A", "B"]),
    area=st.sampled_from(["", "Lucas County"]),
    exceptions=st.sampled_from(["", "dead plants"]),
    scope=st.sampled_from([(), ("hybrids",)]),
    how_known=st.sampled_from(["read", "memory"]),
)
CLASSES = st.permutations(
    [a_class("A"), a_class("B"), a_class("C", acts=("possess",)), a_class("D", permit="yes")]
).map(lambda row: tuple(row))
VERSIONS = st.builds(
    lambda entries, classes, cut, acts, title, begins: a_list(
        *entries,
        classes=tuple(
            replace(list_class, acts=acts) if list_class.name == "A" else list_class
            for list_class in classes
            if list_class.name in "AB" or cut
        ),
        title=title,
        effective_from=begins,
    ),
    st.lists(ENTRIES, max_size=7),
    CLASSES,
    st.booleans(),
    st.sampled_from([("sell",), ("sell", "import")]),
    st.sampled_from(["Invented list", "Renamed list"]),
    st.none() | st.dates(date(2020, 1, 1), date(2020, 1, 9)),
)


@settings(deadline=None, max_examples=300)
@given(VERSIONS, VERSIONS)
def test_changes_applied_to_the_earlier_version_give_the_later(
    before: ListVersion, after: ListVersion
) -> None:
    assert apply(compare(before, after), before) == after


@settings(deadline=None, max_examples=50)
@given(VERSIONS)
def test_a_version_does_not_differ_from_itself(version: ListVersion) -> None:
    changes = compare(version, version)
    assert (changes.header, changes.classes, changes.entries) == ((), (), ())


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_changes_of_a_real_list_applied_give_the_later_version(
    library: Library, data: st.DataObject
) -> None:
    version = data.draw(
        st.sampled_from([listed for listed in library.law.versions if len(listed.entries) > 5])
    )
    shuffled = data.draw(st.permutations(version.entries))
    kept = tuple(shuffled[: data.draw(st.integers(0, len(shuffled)))])
    after = replace(version, entries=kept, amended=date(2026, 1, 1))
    assert apply(compare(version, after), version) == after


FIRST = a_list(PLAIN, OTHER, effective_from=date(2010, 1, 1), superseded_on=date(2015, 6, 1))
SECOND = a_list(
    OTHER,
    an_entry("salvinia", rank="genus"),
    effective_from=date(2015, 6, 1),
    superseded_on=date(2020, 1, 1),
)
BOOK = law(FIRST, SECOND)


@pytest.mark.parametrize(
    ("since", "until", "events"),
    [
        (date(2009, 12, 30), date(2009, 12, 31), []),
        (date(2009, 12, 31), date(2010, 1, 1), ["came-into-force"]),
        (date(2010, 1, 1), date(2015, 5, 31), []),
        (date(2010, 1, 1), date(2015, 6, 1), ["replaced"]),
        (date(2015, 6, 1), date(2019, 12, 31), []),
        (date(2019, 12, 31), date(2020, 1, 1), ["lapsed"]),
        (date(2000, 1, 1), date(2030, 1, 1), ["came-into-force", "replaced", "lapsed"]),
    ],
)
def test_a_span_tells_the_versions_that_came_and_went_in_it(
    since: date, until: date, events: Sequence[str]
) -> None:
    assert [changes.event for changes in changes_between(BOOK, since, until)] == events


def test_a_version_that_replaces_another_is_told_entry_by_entry() -> None:
    (change,) = changes_between(BOOK, date(2015, 1, 1), date(2016, 1, 1), OHIO)
    assert (change.on, change.version_before, change.version_after) == (
        date(2015, 6, 1),
        date(2010, 1, 1),
        date(2015, 6, 1),
    )
    assert {(entry.entry.accepted_name, entry.kinds) for entry in change.entries} == {
        ("Trapa natans", ("removed",)),
        ("Salvinia", ("added",)),
    }


def test_a_first_version_and_a_last_one_say_what_is_not_known() -> None:
    came, lapsed = (
        changes_between(BOOK, *span)[0]
        for span in ((date(2009, 1, 1), date(2010, 1, 1)), (date(2019, 1, 1), date(2021, 1, 1)))
    )
    assert "No earlier version is loaded" in came.note
    assert "No later version is loaded" in lapsed.note
    assert {change.kinds for change in (*came.entries, *lapsed.entries)} == {
        ("added",),
        ("removed",),
    }


def test_dates_of_entries_show_on_the_first_day_that_they_make_a_difference() -> None:
    begins = Term("from-date", "listed from 2012-03-01", on=date(2012, 3, 1))
    ends = Term("sold-off-until", "stock may be sold to 2012-03-31", on=date(2012, 3, 31))
    book = law(a_list(replace(PLAIN, terms=(begins, ends)), effective_from=date(2010, 1, 1)))
    found = [
        (changes.on, changes.event, [dated.effect for dated in changes.dated])
        for changes in changes_between(book, date(2011, 1, 1), date(2013, 1, 1))
    ]
    assert found == [
        (date(2012, 3, 1), "dated-terms", ["begins"]),
        (date(2012, 4, 1), "dated-terms", ["sell-off-ends"]),
    ]


def test_an_amendment_whose_earlier_text_is_not_held_is_told_as_such() -> None:
    book = law(a_list(PLAIN, effective_from=date(2010, 1, 1), amended=date(2012, 3, 1)))
    (change,) = changes_between(book, date(2011, 1, 1), date(2013, 1, 1))
    assert (change.event, change.entries) == ("amended", ())
    assert "what changed is not known" in change.note


def test_a_span_that_runs_backwards_is_refused() -> None:
    with pytest.raises(BadRequest, match="backwards"):
        changes_between(BOOK, date(2020, 1, 1), date(2010, 1, 1))


def test_changes_are_told_for_one_jurisdiction_where_asked(library: Library) -> None:
    """Minnesota's changes of 2026-01-01 (noxious weed list in force that day)."""
    found = changes_between(
        library.law, date(2025, 1, 1), date(2026, 12, 31), Jurisdiction("US-MN")
    )
    assert {changes.list_id for changes in found} == {"us-mn-noxious-weeds"}
    names = {dated.entry.accepted_name for changes in found for dated in changes.dated}
    assert {"Petasites japonicus", "Petasites hybridus"} <= names


def test_a_listed_genus_touches_its_species_in_stock() -> None:
    changes = changes_between(BOOK, date(2015, 1, 1), date(2016, 1, 1))
    stock = [a_subject("salvinia-minima"), a_subject("hydrilla-verticillata"), a_subject()]
    assert {(change.plant_id, change.change.kinds) for change in touched(changes, stock)} == {  # type: ignore[union-attr]
        ("salvinia-minima", ("added",)),
        ("trapa-natans", ("removed",)),
    }


def test_a_species_left_out_of_a_listed_genus_is_not_touched() -> None:
    left_out = Term("except-taxa", "except Salvinia minima", taxa=(PlantId("salvinia-minima"),))
    changes = [compare(a_list(), a_list(an_entry("salvinia", rank="genus", terms=(left_out,))))]
    found = touched(changes, [a_subject("salvinia-minima"), a_subject("salvinia-molesta")])
    assert [change.plant_id for change in found] == ["salvinia-molesta"]


def test_a_new_reading_of_the_same_law_touches_no_plant() -> None:
    changes = [compare(a_list(replace(PLAIN, how_known="memory")), a_list(PLAIN))]
    assert touched(changes, [a_subject()]) == ()


def test_a_class_that_reaches_every_aquatic_plant_touches_all_of_a_stock() -> None:
    sweeping = a_class("Every plant", acts=("transport",), every_aquatic_plant=True)
    changes = [compare(a_list(), a_list(classes=(a_class(), sweeping)))]
    assert len(touched(changes, [a_subject(), a_subject("hydrilla-verticillata")])) == 2


def test_plants_of_the_reference_are_touched_by_what_changed_in_a_span(library: Library) -> None:
    """Maine: sale of Butomus umbellatus, Ficaria verna, Glyceria maxima and Phragmites australis
    barred from 2024-01-01.
    """
    changes = changes_between(
        library.law, date(2023, 12, 31), date(2024, 1, 1), Jurisdiction("US-ME")
    )
    stock = [
        library.taxonomy.subject(PlantId(plant_id))
        for plant_id in ("butomus-umbellatus", "glyceria-maxima", "iris-pseudacorus")
    ]
    assert {change.plant_id for change in touched(changes, stock)} == {
        "butomus-umbellatus",
        "glyceria-maxima",
    }


def test_a_class_on_every_aquatic_plant_touches_no_plant_of_dry_ground() -> None:
    sweeping = a_class("Every plant", acts=("transport",), every_aquatic_plant=True)
    changes = [compare(a_list(), a_list(classes=(a_class(), sweeping)))]
    stock = [
        a_subject("acorus-calamus", aquatic="yes"),
        a_subject("quercus-alba", aquatic="no"),
        a_subject("carex-grayi", aquatic="wet-ground"),
        a_subject("unknown-plant", aquatic=None),
    ]
    assert [item.name for item in touched(changes, stock)] == [
        "Acorus calamus",
        "Carex grayi",
        "Unknown plant",
    ]


def test_a_touched_plant_is_given_with_its_name_its_list_and_each_change_once() -> None:
    changes = [
        compare(a_list(), a_list(an_entry(), an_entry("trapa", rank="genus"))),
        compare(a_list(an_entry()), a_list(an_entry())),
    ]
    found = touched(changes, [a_subject()])
    assert [(item.plant_id, item.name, item.list_changes.list_id) for item in found] == [
        ("trapa-natans", "Trapa natans", "us-oh-test"),
        ("trapa-natans", "Trapa natans", "us-oh-test"),
    ]
    assert {item.change.entry.accepted_name for item in found} == {"Trapa natans", "Trapa"}  # type: ignore[union-attr]


def test_a_list_that_names_one_subspecies_touches_that_and_the_species_not_its_sister() -> None:
    listed, sister, species = (
        PlantId("phragmites-australis-subsp-australis"),
        PlantId("phragmites-australis-subsp-americanus"),
        PlantId("phragmites-australis"),
    )
    entry = an_entry(listed, rank="subspecies")
    changes = [compare(a_list(), a_list(entry))]
    stock = [
        a_subject(listed, rank="subspecies", lineage=(listed, species)),
        a_subject(sister, rank="subspecies", lineage=(sister, species)),
        a_subject(species, below=(listed, sister), lineage=(species,)),
    ]
    assert [item.plant_id for item in touched(changes, stock)] == [listed, species]


def test_a_list_that_names_the_species_as_one_subspecies_does_not_touch_the_other() -> None:
    """An entry whose accepted name is the species, and whose rank is the subspecies that it means."""
    species, sister = (
        PlantId("phragmites-australis"),
        PlantId("phragmites-australis-subsp-americanus"),
    )
    changes = [compare(a_list(), a_list(an_entry(species, rank="subspecies")))]
    stock = [
        a_subject(species, lineage=(species,)),
        a_subject(sister, rank="subspecies", lineage=(sister, species)),
    ]
    assert [item.plant_id for item in touched(changes, stock)] == [species]
