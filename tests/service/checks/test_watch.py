"""Watches: the demo stock across two versions of a list, and what else may change."""

import shutil
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from data_loaders.regulations.from_tables import to_toml
from data_loaders.regulations.listfile import EntryModel, ListFile, read_list_file
from data_loaders.regulations.load import FOLDER
from data_loaders.regulations.own_lists import load_list_files
from service.checks.label import LineName
from service.checks.stock import StockQuestion
from service.checks.watch import changes_of, run_watch, take_snapshot
from service.errors import NotFound
from service.input.stock_table import read_stock
from service.store.database import Build
from service.store.library import Library
from service.store.watches import WatchesUnreadable, WatchFile, watches_path
from service.values.vocabulary import Jurisdiction
from service.values.watches import Watch

STOCK = Path("demo_data/stock/marl_hollow_stock.csv")
DAY, NEXT = date(2026, 6, 1), date(2026, 9, 1)
PLACES = (Jurisdiction("US-WI"), Jurisdiction("US-OH"))
QUESTION = StockQuestion(PLACES, ("sell",), DAY)
MOVED, REMOVED, ADDED = "Butomus umbellatus", "Nymphoides peltata", "Pontederia cordata"


def stock_lines() -> list[LineName]:
    return [name for name in read_stock(STOCK.read_bytes()).names if name.shown]


def next_version(model: ListFile) -> ListFile:
    """Another version of the list: one entry out, one in another class, one new."""
    kept = [entry for entry in model.entries if entry.accepted_name != REMOVED]
    entries = [
        entry.model_copy(update={"class_name": "Prohibited", "exceptions": "", "terms": ()})
        if entry.accepted_name == MOVED
        else entry
        for entry in kept
    ]
    entries.append(
        EntryModel.model_validate(
            {
                "class": "Prohibited",
                "name_as_listed": ADDED,
                "accepted_name": ADDED,
                "rank": "species",
                "how_known": "read",
            }
        )
    )
    assert len(kept) < len(model.entries)
    assert any(entry.accepted_name == MOVED and entry.class_name == "Restricted" for entry in kept)
    return model.model_copy(
        update={"effective_from": NEXT, "amended": None, "entries": tuple(entries)}
    )


@pytest.fixture(scope="module")
def later(reference_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Library:
    """The reference store with another version of Wisconsin's list, from ``NEXT`` on."""
    folder = tmp_path_factory.mktemp("watch")
    store, file = folder / "store.db", folder / "us-wi-nr40@2026-09-01.toml"
    shutil.copy(reference_path, store)
    file.write_text(
        to_toml(next_version(read_list_file(FOLDER / "us-wi-nr40.toml"))), encoding="utf-8"
    )
    load_list_files(store, [file])
    return Library(Build(store))


def kept(library: Library, names: Sequence[LineName]) -> Watch:
    return Watch("spring", str(STOCK), PLACES, ("sell",), take_snapshot(library, names, QUESTION))


def lines_of(library: Library, names: Sequence[LineName], *plants: str) -> set[str]:
    """Lines that may mean one of these plants."""
    resolved = library.resolver.resolve_all([name.shown for name in names])
    return {
        name.shown
        for name, resolution in zip(names, resolved, strict=True)
        if {candidate.accepted_name for candidate in resolution.candidates} & set(plants)
    }


def test_a_new_version_of_a_list_names_exactly_the_lines_touched(
    library: Library, later: Library
) -> None:
    names = [*stock_lines(), LineName(MOVED), LineName(REMOVED), LineName(ADDED)]
    watch = kept(library, names)
    same, nothing = run_watch(library, watch, names, DAY)
    assert nothing == ()
    after, changes = run_watch(later, same, names, NEXT)
    assert {change.label for change in changes} == lines_of(library, names, MOVED, REMOVED, ADDED)
    assert {change.kinds for change in changes} == {("law",)}
    said = {change.label: " ".join(change.reasons) for change in changes}
    assert "class was Restricted, is Prohibited" in said[MOVED]
    assert f"no longer has {REMOVED}" in said[REMOVED]
    assert f"has {ADDED}: Prohibited" in said[ADDED]
    assert all("US-OH" not in sentence for sentence in said.values())
    assert run_watch(later, after, names, NEXT)[1] == ()


def test_before_its_day_a_version_changes_nothing(library: Library, later: Library) -> None:
    names = stock_lines()
    assert run_watch(later, kept(library, names), names, DAY)[1] == ()


def test_how_an_entry_is_known_is_no_change(
    library: Library, reference_path: Path, tmp_path: Path
) -> None:
    model = read_list_file(FOLDER / "us-wi-nr40.toml")
    entries = tuple(entry.model_copy(update={"how_known": "read"}) for entry in model.entries)
    file, store = tmp_path / "us-wi-nr40.toml", tmp_path / "store.db"
    file.write_text(
        to_toml(
            model.model_copy(update={"entries": entries, "effective_from": NEXT, "amended": None})
        ),
        encoding="utf-8",
    )
    shutil.copy(reference_path, store)
    load_list_files(store, [file])
    names = [LineName(entry.name_as_listed) for entry in model.entries if entry.name_as_listed]
    assert run_watch(Library(Build(store)), kept(library, names), names, NEXT)[1] == ()


def test_lines_that_come_and_go_are_of_the_own_list(library: Library) -> None:
    watch = kept(library, [LineName("Trapa natans"), LineName("Typha latifolia")])
    now = [LineName("Typha latifolia"), LineName("Lythrum salicaria")]
    changes = run_watch(library, watch, now, DAY)[1]
    assert [(change.label, change.kinds) for change in changes] == [
        ("Lythrum salicaria", ("own-list",)),
        ("Trapa natans", ("own-list",)),
    ]
    assert "US-WI sell" in changes[0].reasons[0]


def test_the_order_of_the_lines_and_doubles_are_no_change(library: Library) -> None:
    names = [LineName("Trapa natans"), LineName("Typha latifolia"), LineName("Trapa natans")]
    watch = kept(library, names)
    assert run_watch(library, watch, names[::-1], DAY)[1] == ()
    (gone,) = run_watch(library, watch, names[:2], DAY)[1]
    assert gone.label == "Trapa natans"


def test_a_label_read_as_another_plant_is_a_change_of_names(library: Library) -> None:
    names = [LineName("Trapa natans")]
    before = take_snapshot(library, names, QUESTION)
    line = replace(before.lines[0], plants=("Trapa bispinosa",))
    (change,) = changes_of(replace(before, lines=(line,)), before)
    assert change.kinds == ("names",)
    assert "Trapa bispinosa" in change.reasons[0]


def test_watches_are_kept_beside_the_store(library: Library, tmp_path: Path) -> None:
    home = WatchFile(watches_path(tmp_path / "reedgate.db"))
    assert home.all() == ()
    watch = kept(library, stock_lines())
    home.put(watch)
    assert WatchFile(home.path).get("spring") == watch
    assert (home.path.stat().st_mode & 0o077) == 0
    with pytest.raises(NotFound):
        home.remove("autumn")
    home.remove("spring")
    assert home.all() == ()


def test_a_damaged_file_of_watches_says_so(tmp_path: Path) -> None:
    path = watches_path(tmp_path / "reedgate.db")
    path.write_text("{", encoding="utf-8")
    with pytest.raises(WatchesUnreadable):
        WatchFile(path).all()
