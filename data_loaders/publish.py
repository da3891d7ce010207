"""Publishing a build: the sealed file into an object store, then a small pointer to it."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from data_loaders.build import file_sha256
from service.errors import NotFound, StoreError
from service.store.database import Build, Identity
from service.store.objects import NoSuchObject, Objects
from service.store.published import BUILDS, POINTER, Published, read_pointer
from service.store.schema import SCHEMA_VERSION


@dataclass(frozen=True)
class Publication:
    """What publishing did.

    Attributes:
        sent: whether the build had to be sent, or was there already.
        removed: builds that were taken away, as older than those to keep.
    """

    current: Published
    sent: bool
    removed: tuple[Published, ...] = ()


def publish(objects: Objects, store: Path, *, keep: int) -> Publication:
    """Publish the build at a path, and let servers take it up.

    The pointer is moved only once the whole build is there.

    Args:
        keep: builds to keep, with this one.

    Raises:
        StoreMissing, StoreOutdated, StoreDamaged: the build is not sound, so nothing was sent.
        ObjectsAway: the object store does not answer; the pointer is as it was.
        StoreError: the store was replaced while it was sent; the pointer is as it was.
    """
    build = Build(store)
    try:
        build_id, identity = build.build_id, build.identity
        sha256 = file_sha256(store)
        key = f"{BUILDS}/{build_id}-{sha256[:16]}.db"
        described = Published(
            build_id=build_id,
            key=key,
            sha256=sha256,
            size=identity.size,
            schema_version=SCHEMA_VERSION,
            published=datetime.now(UTC),
        )
        sent = objects.size(key) != identity.size
        if sent:
            objects.put(key, store)
        if Identity.of(store) != identity:
            raise StoreError(
                "The store was replaced while it was published.",
                next_step="The pointer is as it was. Publish again.",
            )
    finally:
        build.close()
    content = _written(described)
    objects.put(_description(key), content)
    objects.put(POINTER, content)
    return Publication(described, sent, _retain(objects, described, keep))


def publish_again(objects: Objects, build_id: str) -> Publication:
    """Let servers go back, or forward, to a build that is still there.

    Raises:
        NotFound: no such build is there whole.
        ObjectsAway: the object store does not answer.
    """
    for build in published_builds(objects):
        if build.build_id == build_id and objects.size(build.key) == build.size:
            objects.put(POINTER, _written(build))
            return Publication(build, sent=False)
    raise NotFound(
        f"No published build has the id {build_id!r}.",
        next_step="See those there are: reedgate publish URL --list.",
    )


def published_builds(objects: Objects) -> list[Published]:
    """The builds that are there, the latest first."""
    found = []
    for key in objects.keys(BUILDS):
        if key.endswith(".json"):
            description = objects.get(key)
            if description is not None:
                found.append(read_pointer(description.content))
    return sorted(found, key=lambda build: build.published, reverse=True)


def current_build(objects: Objects) -> Published | None:
    """The build that the pointer names; None while nothing is published."""
    try:
        found = objects.get(POINTER)
    except NoSuchObject:
        return None
    return read_pointer(found.content) if found else None


def _retain(objects: Objects, current: Published, keep: int) -> tuple[Published, ...]:
    others = [build for build in published_builds(objects) if build.key != current.key]
    too_many = tuple(others[max(0, keep - 1) :])
    for build in too_many:
        # The description first: a build without one is in nobody's way, the reverse would offer a
        # build that is gone.
        objects.remove(_description(build.key))
        objects.remove(build.key)
    return too_many


def _description(key: str) -> str:
    return f"{key.removesuffix('.db')}.json"


def _written(build: Published) -> bytes:
    return (build.model_dump_json(indent=1) + "\n").encode()
