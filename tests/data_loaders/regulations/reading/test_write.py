"""The list file that a reading writes: what was seen is read, nothing is lost."""

from datetime import date
from pathlib import Path

import pytest

from data_loaders.regulations.list_check import check_list_file
from data_loaders.regulations.listfile import ListFile, read_list_file
from data_loaders.regulations.reading import read_document, read_list
from data_loaders.regulations.reading.report import reading_json
from data_loaders.regulations.reading.review import accepted, differences, review_page
from data_loaders.regulations.reading.stored import from_store
from data_loaders.regulations.reading.write import Copy, as_toml, marked_read
from service.errors import BadRequest
from service.store.library import Library
from tests.data_loaders.regulations.reading.corpus import Sample, lists, make

COPY = Copy("law.html", "ab" * 32, date(2026, 6, 1), "https://rules.example.gov/law")


@pytest.fixture(scope="module")
def sample(library: Library) -> Sample:
    model = next(list_file for list_file in lists() if list_file.list_id == "us-al-noxious-weeds")
    return make("html_table_with_headings", model, library)


@pytest.mark.parametrize("model", lists(), ids=lambda model: model.list_id)
def test_no_entry_is_ever_lost_or_weakened(library: Library, model: ListFile) -> None:
    sample = make("text_run_together", model, library)
    reading = read_list(read_document(sample.content, sample.file), model, library)
    written = marked_read(model, reading, COPY)
    assert len(written.entries) == len(model.entries)
    order = ("memory", "partly-read", "read")
    for before, after in zip(model.entries, written.entries, strict=True):
        assert order.index(after.how_known) >= order.index(before.how_known)
        kept = {"how_known": before.how_known, "read_url": before.read_url}
        assert after.model_copy(update=kept) == before


def test_what_was_seen_is_read_and_what_was_not_stays_and_is_named(
    library: Library, sample: Sample, tmp_path: Path
) -> None:
    model = sample.plan.model
    reading = read_list(read_document(sample.content, sample.file), model, library)
    path = tmp_path / "new.toml"
    path.write_text(as_toml(marked_read(model, reading, COPY), reading, COPY), encoding="utf-8")
    written = read_list_file(path)
    text = path.read_text(encoding="utf-8")
    moved = {entry.entry for entry in reading.class_differs}
    for place in sample.plan.seen.keys() - moved:
        assert written.entries[place].how_known == "read"
        assert written.entries[place].read_url == COPY.url
    for place in sample.plan.gone | moved:
        assert written.entries[place] == model.entries[place]
        assert f"#   {model.entries[place].name_as_listed}" in text or place in moved
    assert (written.read_url, written.read_copy_date) == (COPY.url, "2026-06-01")
    assert written.read_sha256 == COPY.sha256
    assert [
        problem
        for problem in check_list_file(path, library.resolver, date(2026, 7, 1))
        if problem.severity == "error"
    ] == []


def test_a_second_reading_does_not_pile_up_notes(library: Library, sample: Sample) -> None:
    model = sample.plan.model
    reading = read_list(read_document(sample.content, sample.file), model, library)
    once = marked_read(model, reading, COPY)
    assert marked_read(once, reading, COPY).note == once.note


def test_accepting_adds_what_is_missing_and_moves_classes(library: Library, sample: Sample) -> None:
    model = sample.plan.model
    reading = read_list(read_document(sample.content, sample.file), model, library)
    additions, reclassed = accepted(differences(reading), "all")
    written = marked_read(model, reading, COPY, additions=additions, reclassed=reclassed)
    assert {
        entry.accepted_name for entry in written.entries[len(model.entries) :]
    } == sample.plan.added
    for place, class_name in sample.plan.moved.items():
        assert written.entries[place].class_name == class_name


def test_accepting_what_changes_nothing_or_is_not_there_is_refused(
    library: Library, sample: Sample
) -> None:
    reading = read_list(read_document(sample.content, sample.file), sample.plan.model, library)
    found = differences(reading)
    unseen = next(difference for difference in found if difference.kind == "not-in-text")
    for numbers in (str(unseen.number), "999", "one"):
        with pytest.raises(BadRequest):
            accepted(found, numbers)


def test_the_review_page_shows_both_sides_and_needs_no_script(
    library: Library, sample: Sample
) -> None:
    document = read_document(sample.content, sample.file)
    reading = read_list(document, sample.plan.model, library)
    page = review_page(reading_json(sample.plan.model, document, reading, COPY), reading)
    assert "<script" not in page
    assert "src=" not in page
    assert page.index("To decide") < page.index("Confirmed:")
    for name in sample.plan.added:
        assert f"<mark>{name}</mark>" in page


def test_what_a_text_says_cannot_run_in_the_review_page(library: Library, sample: Sample) -> None:
    text = "Prohibited:\n\n1. Trapa natans <script>alert(1)</script>\n2. Butomus umbellatus\n"
    document = read_document(text.encode(), "law.txt")
    reading = read_list(document, sample.plan.model, library)
    page = review_page(reading_json(sample.plan.model, document, reading, COPY), reading)
    assert "<script" not in page


def test_a_list_that_only_the_store_has_is_written_as_the_store_has_it(library: Library) -> None:
    for version in library.law.versions:
        model = from_store(version, library)
        assert [entry.name_as_listed for entry in model.entries] == [
            entry.name_as_listed for entry in version.entries
        ]
        assert [list_class.acts for list_class in model.classes] == [
            list_class.acts for list_class in version.classes
        ]
        assert [len(entry.terms) for entry in model.entries] == [
            len(entry.terms) for entry in version.entries
        ]
