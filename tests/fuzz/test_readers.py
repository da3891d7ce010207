"""Every reader of what comes from outside, given spoilt files: it reads them, or refuses them with
words for a person, and never fails otherwise.

Files that once broke a reader are kept in tests/corpus and read on every run. For long: pytest -m
slow tests/fuzz
"""

import dataclasses
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from data_loaders.geography.features import open_vector
from data_loaders.geography.mapping import read_mapping
from data_loaders.occurrences.plain import plain_part
from data_loaders.occurrences.tables import inspect
from data_loaders.regulations.listfile import read_list_file
from data_loaders.report import Tally
from service.errors import ReedgateError
from service.input.community import read_community
from service.input.json_document import parse_json
from service.input.plan import read_plan
from service.input.plan_table import read_plan_table
from service.input.stock_table import read_stock
from service.names import Resolver, parse_label
from service.store.library import Library
from tests.fuzz.mutations import CORPUS, seeds, spoilt

_QUIET = [
    HealthCheck.function_scoped_fixture,
    HealthCheck.too_slow,
    HealthCheck.data_too_large,
    HealthCheck.large_base_example,
]
USUAL = settings(max_examples=60, deadline=None, suppress_health_check=_QUIET)
LONG = settings(max_examples=5_000, deadline=None, suppress_health_check=_QUIET)


def _stock(content: bytes, _: Path) -> None:
    table = read_stock(content)
    assert len(table.labels) == len(table.rows)


def _plan(content: bytes, _: Path) -> None:
    read_plan(parse_json(content))


def _plan_table(content: bytes, _: Path) -> None:
    read_plan_table(content)


def _community(content: bytes, _: Path) -> None:
    read_community(parse_json(content))


def _features(content: bytes, folder: Path) -> None:
    path = folder / "file.geojson"
    path.write_bytes(content)
    tally = Tally()
    with open_vector(path) as vector:
        for layer in vector.layers:
            for feature in vector.features(layer, tally):
                assert feature.geometry.is_valid


def _records(suffix: str) -> Callable[[bytes, Path], None]:
    def read(content: bytes, folder: Path) -> None:
        path = folder / f"file{suffix}"
        path.write_bytes(content)
        table = inspect(path)
        for member in table.members or ("",) if table.kind == "delimited" else ():
            plain_part(table, member, folder)

    return read


def _list_toml(content: bytes, folder: Path) -> None:
    path = folder / "list.toml"
    path.write_bytes(content)
    read_list_file(path)


def _mapping_toml(content: bytes, folder: Path) -> None:
    path = folder / "mapping.toml"
    path.write_bytes(content)
    read_mapping(path)


READERS: dict[str, Callable[[bytes, Path], None]] = {
    "stock": _stock,
    "plan_json": _plan,
    "plan_csv": _plan_table,
    "community": _community,
    "features": _features,
    "records": _records(".tsv"),
    "archive": _records(".zip"),
    "list_toml": _list_toml,
    "mapping_toml": _mapping_toml,
}


def takes_or_refuses(kind: str, content: bytes, folder: Path) -> None:
    refusal: ReedgateError | None = None
    try:
        READERS[kind](content, folder)
    except ReedgateError as error:
        refusal = error
    if refusal is not None:
        assert len(refusal.detail) > 10


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz")


@pytest.mark.parametrize("kind", READERS)
def test_files_kept_are_read_or_refused(kind: str, folder: Path) -> None:
    kept = seeds(kind)
    assert kept
    for content in kept:
        takes_or_refuses(kind, content, folder)


@pytest.mark.parametrize("kind", READERS)
@USUAL
@given(data=st.data())
def test_spoilt_files_are_read_or_refused(kind: str, folder: Path, data: st.DataObject) -> None:
    takes_or_refuses(kind, data.draw(spoilt(kind)), folder)


@pytest.mark.slow
@pytest.mark.parametrize("kind", READERS)
@LONG
@given(data=st.data())
def test_spoilt_files_are_read_or_refused_for_long(
    kind: str, folder: Path, data: st.DataObject
) -> None:
    takes_or_refuses(kind, data.draw(spoilt(kind)), folder)


@pytest.mark.parametrize("kind", READERS)
def test_a_file_of_nothing_but_brackets_is_refused(kind: str, folder: Path) -> None:
    for piece in (b"[", b"{", b'{"a":', b"a = [", b"[[a]]\n", b'"', b"<a>"):
        takes_or_refuses(kind, piece * 20_000, folder)


def _label(content: bytes, resolver: Resolver) -> None:
    label = content.decode("utf-8", "surrogateescape").encode("utf-8", "replace").decode()
    parsed = parse_label(label)
    for part in parsed.parts:
        assert 0 <= part.start <= part.end <= len(label)
    resolution = resolver.resolve(label)
    assert resolution.label == label
    assert resolution.match != "spelling" or not resolution.confirmed
    assert bool(resolution.candidates) == (resolution.match != "none")
    assert dataclasses.replace(resolution) == resolver.resolve(label)


def test_labels_kept_are_read(library: Library) -> None:
    for content in seeds("labels"):
        _label(content, library.resolver)


@USUAL
@given(
    content=st.one_of(
        spoilt("labels"), st.text(max_size=120).map(lambda text: text.encode("utf-8", "replace"))
    )
)
def test_spoilt_labels_are_read(library: Library, content: bytes) -> None:
    _label(content, library.resolver)


@pytest.mark.slow
@LONG
@given(
    content=st.one_of(
        spoilt("labels"), st.text(max_size=400).map(lambda text: text.encode("utf-8", "replace"))
    )
)
def test_spoilt_labels_are_read_for_long(library: Library, content: bytes) -> None:
    _label(content, library.resolver)


def test_the_corpus_is_small() -> None:
    assert sum(path.stat().st_size for path in CORPUS.rglob("*") if path.is_file()) < 500_000
