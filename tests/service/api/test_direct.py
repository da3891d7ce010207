"""The way past the framework: never an answer that the framework would not give."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from starlette.types import Receive, Scope, Send

from service.api.app import create_app
from service.api.direct import Direct
from service.api.routes import law

FINDINGS = "/v1/findings?label=Eichhornia&jurisdiction=US-OH"


@pytest.fixture(scope="module")
def framework(reference_path: Path) -> Iterator[TestClient]:
    """The same service without its way past the framework."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(law, "asked_most", list)
        with TestClient(create_app(reference_path), raise_server_exceptions=False) as client:
            yield client


@pytest.mark.parametrize(
    "path",
    [
        FINDINGS,
        f"{FINDINGS}&act=sell&act=import&on=2026-06-01",
        f"{FINDINGS}&act=sell,import&county=Franklin",
        "/v1/findings?label=Water+lettuce%2C+4in&jurisdiction=wisconsin",
        "/v1/findings?label=Typha%20%C3%97%20glauca&jurisdiction=US",
        "/v1/findings?label=%FF%00&jurisdiction=US-OH",
        f"{FINDINGS}&label=Typha",
        f"{FINDINGS}&label=Eichhornia",
        f"{FINDINGS}&acts=sell",
        f"{FINDINGS}&act=",
        f"{FINDINGS}&act=grow",
        f"{FINDINGS}&on=1780000000",
        f"{FINDINGS}&on=2026-06-01&on=2026-06-01",
        f"{FINDINGS}&county=Nowhere",
        f"{FINDINGS}&county={'a' * 81}",
        "/v1/findings?label=&jurisdiction=US-OH",
        "/v1/findings?label=%20&jurisdiction=US-OH",
        f"/v1/findings?label={'a' * 2_001}&jurisdiction=US-OH",
        "/v1/findings?label=Typha&jurisdiction=",
        "/v1/findings?label=Typha",
        "/v1/findings",
        "/v1/findings?",
        "/v1/findings?=x&label=Typha&jurisdiction=US-OH",
    ],
)
@pytest.mark.parametrize("accept", ["*/*", "application/json", "text/csv", "text/html;q=0.1"])
def test_both_ways_answer_alike(
    client: TestClient, framework: TestClient, path: str, accept: str
) -> None:
    headers = {"Accept": accept}
    answers = [asked.get(path, headers=headers) for asked in (client, framework)]
    first, second = [
        (
            answer.status_code,
            answer.content,
            answer.headers.get("content-type"),
            answer.headers.get("etag"),
        )
        for answer in answers
    ]
    assert first == second


def test_the_short_way_is_taken(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    taken: list[bool] = []
    answered = Direct.__call__

    async def watched(self: Direct, scope: Scope, receive: Receive, send: Send) -> None:
        passed_on: list[bool] = []

        async def framework(scope: Scope, receive: Receive, send: Send) -> None:
            passed_on.append(True)
            await inner(scope, receive, send)

        inner, self._app = self._app, framework
        await answered(self, scope, receive, send)
        self._app = inner
        taken.append(not passed_on)

    monkeypatch.setattr(Direct, "__call__", watched)
    assert client.get(f"{FINDINGS}&on=2031-02-03").status_code == 200
    assert client.get(f"{FINDINGS}&acts=sell").status_code == 422
    assert taken == [True, False]
