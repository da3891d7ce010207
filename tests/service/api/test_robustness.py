"""Faults and how the service stands them: a real server on the loopback address where the
network has a part in it.
"""

import errno
import gc
import json
import os
import resource
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st

from service.api.app import create_app
from service.errors import StoreDamaged, StoreError, StoreMissing
from service.settings import Settings
from service.store.database import Build
from tests.service.api.serving import Served, served

LINES = 8_000
LONG = json.dumps(
    {
        "labels": [f"Typha latifolia no {number}" for number in range(LINES)],
        "to": ["US-OH", "US-WI"],
    }
)
ASK = "/v1/findings?label=water%20hyacinth&jurisdiction=US-WI"


@pytest.fixture(scope="module")
def service(reference_path: Path) -> Iterator[Served]:
    with served(reference_path, max_pause_seconds=1, rate_per_minute=0) as running:
        yield running


def replaced(store: Path, source: Path) -> None:
    """A new file takes the store's name, as a load does it."""
    draft = store.with_name("draft.db")
    shutil.copyfile(source, draft)
    draft.replace(store)


def test_no_request_fails_while_builds_are_replaced(
    tmp_path: Path, reference_path: Path, other_build: Path
) -> None:
    store = tmp_path / "reedgate.db"
    shutil.copyfile(reference_path, store)
    statuses: Counter[object] = Counter()
    seen: set[str] = set()
    build_ids = {source: Build(source).build_id for source in (reference_path, other_build)}
    done = threading.Event()

    def ask(url: str) -> None:
        with httpx.Client(base_url=url, timeout=30) as client:
            number = 0
            while not done.is_set():
                number += 1
                try:
                    finding = client.get(f"/v1/findings?jurisdiction=US-WI&label=Typha%20{number}")
                    stock = client.post(
                        "/v1/stock-checks",
                        json={"labels": ["Trapa natans", "cattail"] * 20, "to": ["US-OH", "US-WI"]},
                    )
                    waters = client.get(
                        f"/v1/waters?near=-84.3,41.6&within_m={number + 1}"
                    )  # read from the file, not from memory
                except httpx.HTTPError as error:
                    statuses[type(error).__name__] += 1
                    continue
                for answer in (finding, stock, waters):
                    statuses[answer.status_code] += 1
                    seen.add(answer.json()["store_build"])

    with served(store) as running:
        askers = [threading.Thread(target=ask, args=(running.url,)) for _ in range(4)]
        for thread in askers:
            thread.start()
        for swap in range(6):
            source = other_build if swap % 2 == 0 else reference_path
            seen.clear()
            replaced(store, source)
            _wait_for(lambda wanted=build_ids[source]: wanted in seen)  # type: ignore[misc]
        done.set()
        for thread in askers:
            thread.join()
    assert set(statuses) == {200}


def _wait_for(condition: Callable[[], bool], seconds: float = 60) -> None:
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until, "waited in vain"
        time.sleep(0.05)


def test_requests_under_way_end_before_the_service_stops(
    tmp_path: Path, reference_path: Path
) -> None:
    body = LONG
    answers: list[httpx.Response] = []
    with served(reference_path) as running:
        asking = threading.Thread(
            target=lambda: answers.append(
                httpx.post(
                    f"{running.url}/v1/stock-checks",
                    content=body,
                    headers={"Content-Type": "application/json"},
                    timeout=60,
                )
            )
        )
        asking.start()
        time.sleep(0.5)
        assert running.stop(60) in (
            0,
            -signal.SIGTERM,
        )  # the server passes the signal on once all is done
        asking.join()
    assert answers[0].status_code == 200
    assert len(answers[0].json()["lines"]) == LINES


def test_others_are_answered_while_a_long_list_is_worked_on(service: Served) -> None:
    body = LONG
    long = threading.Thread(
        target=lambda: httpx.post(
            f"{service.url}/v1/stock-checks",
            content=body,
            headers={"Content-Type": "application/json"},
            timeout=60,
        )
    )
    long.start()
    time.sleep(0.3)
    answered = 0
    while long.is_alive():
        assert httpx.get(f"{service.url}/health/live", timeout=20).status_code == 200
        answered += 1
    long.join()
    assert answered >= 3


def _received(connection: socket.socket) -> bytes:
    pieces = b""
    while piece := connection.recv(65_536):
        pieces += piece
    return pieces


def test_a_client_that_stops_within_its_body_is_given_up_on(service: Served) -> None:
    with service.connect() as slow:
        slow.sendall(
            b"POST /v1/names HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{"
        )
        began = time.monotonic()
        answer = _received(slow)
    assert answer.startswith(b"HTTP/1.1 408")
    assert b"application/problem+json" in answer
    assert time.monotonic() - began < 10


def test_a_client_that_dribbles_its_request_holds_up_nobody(service: Served) -> None:
    with service.connect() as slow:
        for piece in (
            b"GET /v1/names",
            b"?label=cattail HTTP/1.1\r\n",
            b"Host: x\r\nConnection: close\r\n",
        ):
            slow.sendall(piece)
            assert httpx.get(f"{service.url}{ASK}").status_code == 200
            time.sleep(0.1)
        slow.sendall(b"\r\n")
        assert _received(slow).startswith(b"HTTP/1.1 200")


def test_a_connection_closed_on_one_side_still_gets_its_answer(service: Served) -> None:
    with service.connect() as half:
        half.sendall(
            b"GET /v1/names?label=cattail HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
        )
        half.shutdown(socket.SHUT_WR)
        answer = _received(half)
    # Some servers give up on a client that has closed its side; what may not happen is a half
    # answer.
    assert answer == b"" or answer.rstrip().endswith(b"}")
    assert httpx.get(f"{service.url}/health/live").status_code == 200


def test_clients_that_go_away_leave_no_request_behind(service: Served) -> None:
    for _ in range(30):
        with service.connect() as rude:
            rude.sendall(
                b"POST /v1/stock-checks?to=US-OH HTTP/1.1\r\nHost: x\r\nContent-Type: text/csv\r\nContent-Length: 90000\r\n\r\nlabel\r\n"
            )
    deadline = time.monotonic() + 10
    while time.monotonic() < deadline:
        metrics = httpx.get(f"{service.url}/metrics").text
        if "reedgate_requests_in_flight 1.0" in metrics:
            break
        time.sleep(0.1)
    assert "reedgate_requests_in_flight 1.0" in metrics  # the one that asks


def test_a_client_that_does_not_take_its_answer_is_given_up_on(service: Served) -> None:
    body = b"label\r\n" + b"Typha latifolia\r\n" * 50_000
    with service.connect() as deaf:
        deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4_096)
        head = f"POST /v1/stock-checks?to=US-OH,US-WI,US-FL HTTP/1.1\r\nHost: x\r\nContent-Type: text/csv\r\nAccept: text/csv\r\nContent-Length: {len(body)}\r\n\r\n"
        deaf.sendall(head.encode() + body)
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline:
            if "reedgate_requests_in_flight 1.0" in httpx.get(
                f"{service.url}/metrics", timeout=20
            ).text and _logged(service, 50_000):
                break
            time.sleep(0.2)
        else:
            pytest.fail("the request is still held")


def _logged(service: Served, at_least_bytes: int) -> bool:
    lines = [
        json.loads(line) for line in service.log.read_text().splitlines() if line.startswith("{")
    ]
    return any(
        line.get("route") == "/v1/stock-checks" and line.get("bytes", 0) >= at_least_bytes
        for line in lines
    )


@pytest.mark.parametrize(
    "rubbish",
    [
        b"\x16\x03\x01\x02\x00\x01\x00",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\r\n" * 100,
        b"GET /" + b"a" * 100_000 + b" HTTP/1.1\r\n\r\n",
    ],
)
def test_what_is_no_request_hurts_nobody(service: Served, rubbish: bytes) -> None:
    with service.connect() as other:
        other.sendall(rubbish)
        other.shutdown(socket.SHUT_WR)
        other.settimeout(5)
        with suppress(TimeoutError, ConnectionResetError):
            _received(other)
    assert httpx.get(f"{service.url}/health/live").status_code == 200


def test_every_line_of_the_log_is_json_and_holds_no_contents(service: Served) -> None:
    httpx.get(f"{service.url}/v1/names?label=secret%20pond%20plan")
    time.sleep(0.1)
    text = service.log.read_text()
    assert "secret" not in text
    for line in text.splitlines():
        assert json.loads(line)["level"]


def test_workers_share_the_store_and_any_of_them_tells_the_metrics_of_all(
    reference_path: Path,
) -> None:
    with served(reference_path, workers=2) as running:
        bodies = {httpx.get(f"{running.url}{ASK}").content for _ in range(20)}
        total = sum(
            float(line.rsplit(" ", 1)[1])
            for line in httpx.get(f"{running.url}/metrics").text.splitlines()
            if line.startswith("reedgate_requests_total") and '"/v1/findings"' in line
        )
        assert len(bodies) == 1
        assert total == 20


def test_a_store_that_appears_later_is_taken_up(tmp_path: Path, reference_path: Path) -> None:
    store = tmp_path / "reedgate.db"
    client = TestClient(create_app(store, Settings()), raise_server_exceptions=False)
    assert client.get("/health/ready").status_code == 503
    replaced(store, reference_path)
    assert client.get("/health/ready").status_code == 200
    assert client.get(ASK).status_code == 200


@pytest.mark.parametrize("content", [b"", b"no store", b"SQLite format 3\x00" + b"\x00" * 5_000])
def test_a_new_file_that_is_no_store_leaves_the_last_good_build_answering(
    tmp_path: Path, reference_path: Path, content: bytes
) -> None:
    store = tmp_path / "reedgate.db"
    shutil.copyfile(reference_path, store)
    client = TestClient(create_app(store, Settings()), raise_server_exceptions=False)
    before = client.get(ASK).json()
    (tmp_path / "bad.db").write_bytes(content)
    (tmp_path / "bad.db").replace(store)
    assert client.get(f"{ASK}&act=buy").json()["store_build"] == before["store_build"]
    ready = client.get("/health/ready").json()
    assert ready["store_refused"]
    assert "reedgate_store_refused 1.0" in client.get("/metrics").text
    replaced(store, reference_path)
    client.get(ASK)
    assert client.get("/health/ready").json()["store_refused"] is None


def test_a_store_written_to_under_the_service_is_no_longer_answered_from(
    tmp_path: Path, reference_path: Path
) -> None:
    store = tmp_path / "reedgate.db"
    shutil.copyfile(reference_path, store)
    client = TestClient(create_app(store, Settings()), raise_server_exceptions=False)
    assert client.get(ASK).status_code == 200
    with store.open("r+b") as stream:
        stream.truncate(store.stat().st_size // 2)
    for path in (f"{ASK}&act=buy", "/health/ready"):
        answer = client.get(path)
        assert answer.status_code == 503
        assert answer.json()["type"] == "/problems/store-damaged"
        assert "rebuild" in answer.json()["next_step"]


def test_a_store_taken_away_leaves_the_open_build_answering(
    tmp_path: Path, reference_path: Path
) -> None:
    store = tmp_path / "reedgate.db"
    shutil.copyfile(reference_path, store)
    client = TestClient(create_app(store, Settings()), raise_server_exceptions=False)
    assert client.get(ASK).status_code == 200
    store.unlink()
    assert client.get(f"{ASK}&act=buy").status_code == 200
    assert client.get("/v1/waters?near=-84.3,41.6").status_code == 200


def test_builds_no_longer_used_are_given_back(
    tmp_path: Path, reference_path: Path, other_build: Path
) -> None:
    store = tmp_path / "reedgate.db"
    shutil.copyfile(reference_path, store)
    client = TestClient(create_app(store, Settings()), raise_server_exceptions=False)
    open_files = []
    for swap in range(5):
        replaced(store, other_build if swap % 2 == 0 else reference_path)
        for radius in range(4):
            assert (
                client.get(
                    f"/v1/waters?near=-84.3,41.6&within_m={swap * 10 + radius + 1}"
                ).status_code
                == 200
            )
        gc.collect()
        open_files.append(
            sum(
                "reedgate.db" in str(path.readlink())
                for path in Path("/proc/self/fd").iterdir()
                if path.is_symlink()
            )
        )
    assert open_files[-1] <= open_files[2] + 1
    assert open_files[-1] < 16


def test_a_thread_that_comes_to_a_build_after_it_was_replaced_still_reads_that_build(
    tmp_path: Path, reference_path: Path, other_build: Path
) -> None:
    store = tmp_path / "reedgate.db"
    shutil.copyfile(reference_path, store)
    build = Build(store)
    replaced(store, other_build)
    with ThreadPoolExecutor(4) as pool:
        found = set(
            pool.map(
                lambda _: build.connection.execute(
                    "SELECT value FROM meta WHERE key = 'build_id'"
                ).fetchone()[0],
                range(40),
            )
        )
    assert found == {build.build_id} != {Build(store).build_id}


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_a_bit_that_flips_anywhere_is_found_when_the_store_is_opened(
    flipped: Path, reference_bytes: bytes, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(reference_bytes) - 1))
    bit = data.draw(st.integers(0, 7))
    _write_flipped(flipped, reference_bytes, place, bit)
    with pytest.raises(StoreError) as caught:
        Build(flipped)
    assert caught.value.next_step
    assert str(flipped.parent) not in str(caught.value)


def test_a_text_of_the_build_that_is_no_longer_text_is_found(
    flipped: Path, reference_bytes: bytes
) -> None:
    place = reference_bytes.index(b"sha256:")  # the seal, which is read first
    _write_flipped(flipped, reference_bytes, place, 7)
    with pytest.raises(StoreDamaged, match="cannot be read"):
        Build(flipped)


def test_a_changed_letter_in_a_row_is_found_though_the_file_is_sound_to_sqlite(
    flipped: Path, reference_bytes: bytes
) -> None:
    place = reference_bytes.index(b"Pontederia crassipes")
    _write_flipped(flipped, reference_bytes, place, 0)
    with sqlite3.connect(f"file:{flipped}?immutable=1", uri=True) as plain:
        assert plain.execute("PRAGMA quick_check").fetchone()[0] == "ok"
    with pytest.raises(StoreDamaged, match="seal"):
        Build(flipped)


@given(st.floats(0, 0.999))
@settings(max_examples=15, deadline=None)
def test_a_store_cut_short_is_found_when_it_is_opened(
    flipped: Path, reference_bytes: bytes, share: float
) -> None:
    flipped.write_bytes(reference_bytes[: int(len(reference_bytes) * share)])
    with pytest.raises(StoreError):
        Build(flipped)


def test_a_store_written_to_by_hand_is_refused(flipped: Path, reference_bytes: bytes) -> None:
    flipped.write_bytes(reference_bytes)
    with sqlite3.connect(flipped) as connection:
        connection.execute("DELETE FROM law_entry WHERE entry_id = 1")
    connection.close()
    with pytest.raises(StoreDamaged, match="written to"):
        Build(flipped)


def test_a_store_of_another_version_says_how_to_rebuild(
    flipped: Path, reference_bytes: bytes
) -> None:
    flipped.write_bytes(reference_bytes)
    with sqlite3.connect(flipped) as connection:
        connection.execute("UPDATE meta SET value = '0' WHERE key = 'schema_version'")
    connection.close()
    ready = TestClient(create_app(flipped, Settings()), raise_server_exceptions=False).get(
        "/health/ready"
    )
    assert ready.status_code == 503
    assert ready.json()["type"] == "/problems/store-outdated"
    assert "reedgate load reference" in ready.json()["next_step"]


@pytest.fixture(scope="module")
def reference_bytes(reference_path: Path) -> bytes:
    return reference_path.read_bytes()


@pytest.fixture(scope="module")
def flipped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("flipped") / "reedgate.db"


def _write_flipped(path: Path, content: bytes, place: int, bit: int) -> None:
    changed = bytearray(content)
    changed[place] ^= 1 << bit
    path.write_bytes(changed)


@pytest.mark.parametrize("on_top", [False, True])
def test_a_full_disk_leaves_the_store_as_it_was(
    tmp_path: Path, reference_path: Path, on_top: bool
) -> None:
    store = tmp_path / "reedgate.db"
    shutil.copyfile(reference_path, store)
    before = store.read_bytes()
    arguments = (
        ["regulations", str(Path("openapi/us-oh-invented.toml").absolute())]
        if on_top
        else ["reference"]
    )

    def small_disk() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (500_000, 500_000))

    load = _loading(store, arguments, preexec_fn=small_disk)
    assert load.returncode == 1, load.stderr
    assert "could not be written" in load.stderr
    assert "Traceback" not in load.stderr
    assert store.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir() if "draft" in path.name] == []


@pytest.mark.skipif(
    os.geteuid() == 0 and not shutil.which("setpriv"), reason="root may read and write everything"
)
def test_a_folder_that_may_not_be_written_to_serves_and_refuses_loads(
    tmp_path: Path, reference_path: Path
) -> None:
    folder = Path(tempfile.mkdtemp(prefix="reedgate-read-only-"))
    store = folder / "reedgate.db"
    shutil.copyfile(reference_path, store)
    store.chmod(0o444)
    folder.chmod(0o555)
    try:
        load = _loading(store, ["reference"], wrapped_in=PLAIN_ACCOUNT)
        assert load.returncode == 1, load.stderr
        assert "could not be written" in load.stderr
        assert "Traceback" not in load.stderr
        with served(store, wrapped_in=PLAIN_ACCOUNT) as running:
            assert httpx.get(f"{running.url}{ASK}").status_code == 200
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)


@pytest.mark.skipif(
    os.geteuid() == 0 and not shutil.which("setpriv"), reason="root may read and write everything"
)
def test_a_store_that_may_not_be_read_says_so(tmp_path: Path, reference_path: Path) -> None:
    folder = Path(tempfile.mkdtemp(prefix="reedgate-unreadable-"))
    folder.chmod(0o755)
    store = folder / "reedgate.db"
    shutil.copyfile(reference_path, store)
    store.chmod(0o000)
    try:
        command = [
            *PLAIN_ACCOUNT,
            sys.executable,
            "-c",
            "from service.cli.main import main; main()",
            "status",
            "cattail",
            "--in",
            "US-OH",
        ]
        asked = subprocess.run(
            command,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
            env={**os.environ, "REEDGATE_STORE": str(store)},
        )
        assert asked.returncode in (1, 2), asked.stderr
        assert "may read the file" in asked.stderr
        assert "Traceback" not in asked.stderr
    finally:
        shutil.rmtree(folder)


PLAIN_ACCOUNT = (
    ("setpriv", "--bounding-set", "-dac_override,-dac_read_search", "--")
    if os.geteuid() == 0
    else ()
)
"""Takes from root the right to pass over the permissions of files."""


def test_a_service_whose_store_may_no_longer_be_read_says_so(
    tmp_path: Path, reference_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(Path, "open", refused)
    with pytest.raises(
        StoreMissing, match=r"cannot be opened: Permission denied\. See that the account"
    ):
        Build(reference_path)


def _loading(
    store: Path, arguments: list[str], *, wrapped_in: tuple[str, ...] = (), **how: Any
) -> subprocess.CompletedProcess[str]:
    command = [
        *wrapped_in,
        sys.executable,
        "-c",
        "from service.cli.main import main; main()",
        "load",
        *arguments,
        "--store",
        str(store),
    ]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, **how)
