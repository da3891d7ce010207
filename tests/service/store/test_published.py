"""Builds that are published, to a folder and to a bucket: taken up, refused, taken back."""

import json
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient

from data_loaders.build import drafting
from data_loaders.publish import current_build, publish, publish_again, published_builds
from service.api.app import create_app
from service.cli.main import main
from service.errors import BadRequest, NotFound, StoreDamaged, StoreOutdated
from service.settings import Settings, settings
from service.store.database import Build
from service.store.objects import NoSuchObject, Objects, ObjectsAway, objects_at
from service.store.published import POINTER, Follower, PublishedStore
from tests.outside import ObjectServer, object_server
from tests.service.api.serving import served
from tests.stores import reference_store


@pytest.fixture(scope="module")
def bucket_server() -> Iterator[ObjectServer]:
    with object_server() as server:
        yield server


@pytest.fixture(params=["folder", "bucket"])
def address(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """An address at which nothing is published yet."""
    if request.param == "folder":
        return f"file://{tmp_path}/published%20builds"
    server: ObjectServer = request.getfixturevalue("bucket_server")
    for name, value in server.environment.items():
        monkeypatch.setenv(name, value)
    return f"s3://{server.bucket}/{tmp_path.parent.name}/{tmp_path.name}"


@pytest.fixture
def objects(address: str) -> Objects:
    return objects_at(address)


def small_build(path: Path, mark: str) -> Path:
    """A sealed store with nothing in it but a source by which its build id differs."""
    with drafting(path, on_top=False) as draft:
        draft.db.table("source").insert(
            {"source_id": mark, "kind": "reference", "title": "Invented", "sha256": "0" * 64}
        )
    return path


def build_id(path: Path) -> str:
    build = Build(path)
    try:
        return build.build_id
    finally:
        build.close()


def test_a_published_build_is_copied_whole_and_asked_for_again_by_its_tag(
    address: str, objects: Objects, tmp_path: Path
) -> None:
    store = small_build(tmp_path / "reedgate.db", "first")
    publish(objects, store, keep=3)
    follower = PublishedStore(address, tmp_path / "here" / "copy.db")
    assert follower.take_up()
    assert follower.copy.read_bytes() == store.read_bytes()
    state = follower.copy.stat()
    assert not follower.take_up()
    # Nor is it fetched again by the next process.
    assert not PublishedStore(address, follower.copy).take_up()
    assert follower.copy.stat() == state
    tag = json.loads(follower.copy.with_name("copy.db.published.json").read_text())["etag"]
    assert objects.get(POINTER, tag) is None


def test_a_copy_that_was_written_to_is_fetched_again(
    address: str, objects: Objects, tmp_path: Path
) -> None:
    store = small_build(tmp_path / "reedgate.db", "first")
    publish(objects, store, keep=3)
    follower = PublishedStore(address, tmp_path / "copy.db")
    follower.take_up()
    with follower.copy.open("ab") as stream:
        stream.write(b"more")
    assert follower.take_up()
    assert follower.copy.read_bytes() == store.read_bytes()


def test_nothing_published_is_said_so(address: str, tmp_path: Path) -> None:
    with pytest.raises(NoSuchObject):
        PublishedStore(address, tmp_path / "copy.db").take_up()


@pytest.mark.parametrize("wrong", ["cut", "bit", "pointer", "other", "gone", "schema"])
def test_an_object_store_that_lies_leaves_the_last_good_build_in_use(
    address: str, objects: Objects, tmp_path: Path, wrong: str
) -> None:
    follower = PublishedStore(address, tmp_path / "copy.db")
    publish(objects, small_build(tmp_path / "first.db", "first"), keep=3)
    follower.take_up()
    good = follower.copy.read_bytes()
    second = small_build(tmp_path / "second.db", "second")
    published = publish(objects, second, keep=3).current
    content = second.read_bytes()
    if wrong == "cut":
        objects.put(published.key, content[:-4096])
    elif wrong == "bit":
        objects.put(published.key, content[:-1] + bytes([content[-1] ^ 1]))
    elif wrong == "pointer":
        objects.put(POINTER, b'{"build_id": "')
    elif wrong == "other":
        changed = published.model_copy(update={"build_id": "0123456789abcdef"})
        objects.put(POINTER, changed.model_dump_json().encode())
    elif wrong == "gone":
        objects.remove(published.key)
    else:
        changed = published.model_copy(update={"schema_version": "1"})
        objects.put(POINTER, changed.model_dump_json().encode())
    expected = {"gone": NoSuchObject, "schema": StoreOutdated}.get(wrong, StoreDamaged)
    for _ in range(2):  # the second time from memory, and no less refused
        with pytest.raises(expected):
            follower.take_up()
    assert follower.copy.read_bytes() == good
    assert {path.name for path in tmp_path.glob("*copy*")} == {
        "copy.db",
        "copy.db.published.json",
        ".copy.db.lock",
    }
    third = small_build(tmp_path / "third.db", "third")
    publish(objects, third, keep=3)
    assert follower.take_up()
    assert follower.copy.read_bytes() == third.read_bytes()


def test_old_builds_are_removed_and_those_kept_can_be_gone_back_to(
    objects: Objects, tmp_path: Path
) -> None:
    ids = []
    for mark in ("first", "second", "third", "fourth"):
        store = small_build(tmp_path / f"{mark}.db", mark)
        ids.append(build_id(store))
        done = publish(objects, store, keep=3)
    assert [build.build_id for build in done.removed] == ids[:1]
    assert [build.build_id for build in published_builds(objects)] == ids[:0:-1]
    assert publish_again(objects, ids[1]).current.build_id == ids[1]
    found = current_build(objects)
    assert found is not None
    assert found.build_id == ids[1]
    with pytest.raises(NotFound):
        publish_again(objects, ids[0])


def test_a_build_that_does_not_fit_its_seal_is_not_published(
    objects: Objects, tmp_path: Path
) -> None:
    store = small_build(tmp_path / "reedgate.db", "first")
    content = store.read_bytes()
    store.write_bytes(content[:-1] + bytes([content[-1] ^ 1]))
    with pytest.raises(StoreDamaged):
        publish(objects, store, keep=3)
    assert current_build(objects) is None
    assert not published_builds(objects)


def test_the_same_build_is_not_sent_twice(objects: Objects, tmp_path: Path) -> None:
    store = small_build(tmp_path / "reedgate.db", "first")
    assert publish(objects, store, keep=3).sent
    assert not publish(objects, store, keep=3).sent
    assert len(published_builds(objects)) == 1


@pytest.mark.parametrize(
    "text", ["s3://", "s3://key:secret@bucket/x", "ftp://host/x", "file://host/x", "nothing"]
)
def test_an_address_that_names_no_object_store_is_refused(text: str) -> None:
    with pytest.raises(BadRequest):
        objects_at(text)


def test_an_object_store_that_is_away_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = small_build(tmp_path / "reedgate.db", "first")
    with object_server() as server:
        for name, value in server.environment.items():
            monkeypatch.setenv(name, value)
        address = f"s3://{server.bucket}/builds"
        publish(objects_at(address), store, keep=3)
        published = PublishedStore(address, tmp_path / "copy.db")
        follower = Follower(published, every_s=1)
        follower.look()
        assert follower.trouble is None
        server.stop()
        follower.look()
        assert isinstance(follower.trouble, ObjectsAway)
        assert "invented" not in str(follower.trouble)
        assert build_id(published.copy) == build_id(store)
        server.start()
        publish(objects_at(address), small_build(tmp_path / "second.db", "second"), keep=3)
        follower.look()
        assert follower.trouble is None
        assert build_id(published.copy) == build_id(tmp_path / "second.db")


def test_servers_take_up_a_published_build_and_no_request_fails(
    address: str, tmp_path: Path, other_build: Path
) -> None:
    objects = objects_at(address)
    publish(objects, reference_store(), keep=3)
    with served(
        address, workers=2, store_copies=tmp_path / "copies", store_check_seconds=0.2
    ) as running:
        _until_ready(running.url, build_id(reference_store()))
        publish(objects, other_build, keep=3)
        wanted = build_id(other_build)
        end, of_new = time.monotonic() + 60, 0
        while of_new < 20 and time.monotonic() < end:
            answer = httpx.get(f"{running.url}/v1/names?label=Typha%20latifolia", timeout=30)
            assert answer.status_code == 200
            of_new = of_new + 1 if answer.json()["store_build"] == wanted else 0
        assert of_new == 20
        assert httpx.get(f"{running.url}/health/ready").json()["store_refused"] is None


def test_a_command_reads_a_published_store_and_none_writes_it(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = CliRunner()
    monkeypatch.setenv("REEDGATE_STORE_COPIES", str(tmp_path / "copies"))
    settings.cache_clear()
    asked = ("status", "Water hyacinth", "--in", "US-WI", "--store", address, "--json")
    missing = run.invoke(main, asked)
    assert missing.exit_code == 1
    assert "reedgate publish" in missing.stderr
    done = run.invoke(main, ["publish", address, "--store", str(reference_store())])
    assert done.exit_code == 0, done.output
    answered = run.invoke(main, asked)
    assert answered.exit_code == 0, answered.output
    assert build_id(reference_store()) in answered.output
    listed = run.invoke(main, ["publish", address, "--list"])
    assert "in use" in listed.output
    refused = run.invoke(main, ["load", "reference", "--store", address])
    assert refused.exit_code == 2
    assert "publish" in refused.output


def _until_ready(url: str, wanted: str) -> None:
    for _ in range(600):
        answer = httpx.get(f"{url}/health/ready", timeout=30)
        if answer.status_code == 200:
            assert answer.json()["store_build"] == wanted
            return
        assert answer.status_code == 503
        time.sleep(0.1)
    raise AssertionError(answer.text)


def test_a_load_over_http_into_a_published_store_is_a_conflict(
    address: str, tmp_path: Path
) -> None:
    publish(objects_at(address), reference_store(), keep=3)
    config = Settings.model_validate(
        {
            "store": address,
            "store_copies": tmp_path / "copies",
            "store_check_seconds": 0.1,
            "tokens_file": tmp_path / "tokens.json",
        }
    )
    app = create_app(config=config)
    _, shown = app.state.tokens.add("loader", ("load",))
    with TestClient(app) as client:
        refused = client.post(
            "/v1/loads/waters?file=w.geojson",
            content=b"{}",
            headers={"Authorization": f"Bearer {shown}"},
        )
    assert refused.status_code == 409
    assert refused.headers["content-type"] == "application/problem+json"
    assert refused.json()["type"] == "/problems/store-published"
    assert "reedgate publish" in refused.json()["next_step"]
