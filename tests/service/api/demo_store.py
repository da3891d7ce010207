"""A store with all that the demo data have: invented waters, watersheds, zones and records
beside the reference data.
"""

import time
from pathlib import Path

from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx import Response

from service.api.examples import Example, examples
from service.store.tokens import TokenFile
from tests.stores import copied, demo_store


def build_demo_store(store: Path) -> None:
    copied(demo_store(), store)


def client_token(app: FastAPI) -> str:
    """An Authorization header that may load."""
    tokens: TokenFile = app.state.tokens
    return f"Bearer {tokens.add('tests', ('read', 'load'))[1]}"


def send(client: TestClient, example: Example, method: str, path: str) -> Response:
    """Send an example as its client would: with a token where it loads, about a job begun here
    where it asks about one.
    """
    headers, body, values = dict(example.headers), example.body, {}
    if example.upload:
        headers["Authorization"] = client_token(client.app)  # type: ignore[arg-type]
        body = Path(example.upload).read_bytes()
    if example.job:
        values["job_id"] = _done_job(client)
    response: Response = client.request(
        method, example.address(path, **values), content=body, headers=headers
    )
    return response


def _done_job(client: TestClient) -> str:
    begun = client.post(
        "/v1/community-screenings?begin=true", content=examples()["screen_community"][0].body
    )
    for _ in range(600):
        job = client.get(begun.headers["Location"])
        if job.status_code == 200:
            return str(job.json()["job_id"])
        time.sleep(0.05)
    raise AssertionError(job.text)
