"""What a running server takes from the network: heads, hosts, slow bodies, many workers."""

import json
import socket
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from pathlib import Path

import httpx
import pytest

from tests.service.api.serving import Served, served

PATIENT_S = 60
"""For reads; a busy machine answers late."""


@pytest.fixture(scope="module")
def running(reference_path: Path) -> Iterator[Served]:
    with served(reference_path, max_in_flight=16, max_pause_seconds=5) as running:
        yield running


def answer_to(running: Served, request: bytes) -> tuple[int, bytes]:
    """Status and the whole of what comes back until the server closes or has sent one answer."""
    with socket.create_connection(("127.0.0.1", running.port), timeout=PATIENT_S) as connection:
        connection.sendall(request)
        received = b""
        while piece := connection.recv(65_536):
            received += piece
            head, blank, body = received.partition(b"\r\n\r\n")
            if blank and b"content-length: " in head.lower():
                length = int(head.lower().split(b"content-length: ")[1].split(b"\r\n")[0])
                if len(body) >= length:
                    break
    return int(received.split(b" ")[1]) if received else 0, received


@pytest.mark.parametrize(
    ("head", "status", "kind"),
    [
        (b"Host: a\r\n", 200, b""),
        (b"", 400, b"/problems/one-host"),
        (b"Host: a\r\nHost: a\r\n", 400, b"/problems/one-host"),
        (b"Host: a\r\nhost: b\r\n", 400, b"/problems/one-host"),
        (b"Host: a\r\nX-Long: " + b"x" * 70_000 + b"\r\n", 431, b"/problems/head-too-large"),
        (b"Host: a\r\n" + b"X-Many: 1\r\n" * 200, 431, b"/problems/head-too-large"),
        (b"Host: a\r\nContent-Length: 1\r\nContent-Length: 2\r\n", 400, b"/problems/malformed"),
        (b"Host : a\r\n", 400, b"/problems/malformed"),
    ],
)
def test_a_head_is_taken_or_refused_with_its_reason(
    running: Served, head: bytes, status: int, kind: bytes
) -> None:
    answered, received = answer_to(running, b"GET /health/live HTTP/1.1\r\n" + head + b"\r\n")
    assert answered == status
    assert kind in received


@pytest.mark.parametrize("method", [b"GET", b"HEAD"])
def test_head_and_body_come_together_and_a_head_alone_comes_too(
    running: Served, method: bytes
) -> None:
    request = method + b" /v1/names?label=cattail HTTP/1.1\r\nHost: a\r\n\r\n"
    with socket.create_connection(("127.0.0.1", running.port), timeout=PATIENT_S) as connection:
        for _ in range(2):  # the connection stays open between the two
            connection.sendall(request)
            head, _, body = connection.recv(65_536).partition(b"\r\n\r\n")
            length = int(head.lower().split(b"content-length: ")[1].split(b"\r\n")[0])
            assert head.startswith(b"HTTP/1.1 200")
            assert len(body) == (length if method == b"GET" else 0)


def test_a_client_that_waits_to_send_its_body_is_told_to_go_on(running: Served) -> None:
    with socket.create_connection(("127.0.0.1", running.port), timeout=PATIENT_S) as connection:
        connection.sendall(
            b"POST /v1/names HTTP/1.1\r\nHost: a\r\nContent-Length: 23\r\n"
            b"Expect: 100-continue\r\n\r\n"
        )
        assert connection.recv(100) == b"HTTP/1.1 100 Continue\r\n\r\n"
        connection.sendall(b'{"labels": ["cattail"]}')
        assert connection.recv(65_536).startswith(b"HTTP/1.1 200")


def test_http_1_0_needs_no_host(running: Served) -> None:
    assert answer_to(running, b"GET /health/live HTTP/1.0\r\n\r\n")[0] == 200


def test_a_header_without_end_is_cut_off_long_before_it_fills_the_memory(running: Served) -> None:
    sent = 0
    with socket.create_connection(("127.0.0.1", running.port), timeout=PATIENT_S) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\nHost: a\r\nX-Endless: ")
        with suppress(OSError):
            while sent < 40_000_000:
                sent += connection.send(b"x" * 65_536)
    assert sent < 8_000_000  # what the buffers of two sockets may hold on the way


def test_a_half_head_is_given_a_time(running: Served) -> None:
    with socket.create_connection(("127.0.0.1", running.port), timeout=PATIENT_S) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\nHost:")
        began = time.monotonic()
        with suppress(ConnectionResetError):
            assert connection.recv(100) == b""
        assert time.monotonic() - began >= 3


def test_slow_senders_keep_nobody_waiting(running: Served) -> None:
    """Twice as many dribbling bodies as there are places; all others are answered."""
    head = b"POST /v1/names HTTP/1.1\r\nHost: a\r\nContent-Length: 5000\r\n\r\n{"
    stop = threading.Event()
    with ExitStack() as stack:
        dribbling = [stack.enter_context(running.connect()) for _ in range(32)]
        for connection in dribbling:
            connection.sendall(head)

        def dribble() -> None:
            while not stop.wait(0.5):
                for connection in dribbling:
                    try:
                        connection.send(b" ")
                    except OSError:
                        continue

        feeder = threading.Thread(target=dribble)
        feeder.start()
        time.sleep(0.3)  # a sender that has only just come is not judged by its rate
        try:
            with httpx.Client(base_url=running.url, timeout=PATIENT_S) as client:
                asked = [
                    client.get("/v1/names?label=cattail")
                    if number % 2
                    else client.post("/v1/names", json={"labels": ["cattail"]})
                    for number in range(20)
                ]
                ready = client.get("/health/ready")
        finally:
            stop.set()
            feeder.join()
    assert [response.status_code for response in asked] == [200] * 20
    assert ready.status_code == 200


def test_a_body_that_comes_too_slowly_is_told_so(running: Served) -> None:
    request = b"POST /v1/names HTTP/1.1\r\nHost: a\r\nContent-Length: 9\r\n\r\n{"
    status, received = answer_to(running, request)
    assert status == 408
    assert b"/problems/too-slow" in received
    assert b"connection: close" in received.lower()


def test_several_workers_come_up_and_answer_together(reference_path: Path) -> None:
    """A worker is given the time that its start takes, however busy the machine is."""
    with served(reference_path, workers=4) as running:

        def ask(number: int) -> int:
            address = f"{running.url}/v1/names?label=cattail%20{number}"
            return httpx.get(address, timeout=PATIENT_S).status_code

        with ThreadPoolExecutor(8) as pool:
            assert set(pool.map(ask, range(40))) == {200}
        log = running.log.read_text()
    assert "died" not in log


def test_a_long_answer_is_written_as_it_is_worked_out(running: Served) -> None:
    """Its first bytes come before its last line is answered, in pieces without a length."""
    labels = [f"Typha latifolia {number}" for number in range(400)]
    body = json.dumps({"labels": labels, "to": ["all"]})
    with (
        httpx.Client(timeout=PATIENT_S) as client,
        client.stream("POST", f"{running.url}/v1/stock-checks", content=body) as response,
    ):
        assert response.status_code == 200
        assert response.headers["transfer-encoding"] == "chunked"
        answer = json.loads(response.read())
    assert [line["name"]["label"] for line in answer["lines"]] == labels
    assert {len(line["findings"]) for line in answer["lines"]} == {51}
