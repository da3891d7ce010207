"""Writes the answers of the contract's examples anew, after the shape of an answer has changed.

    python -m tests.service.api.renew_examples

Lists in them are cut to two members, and the build id is a stand-in, so that a change of the reference data leaves the contract as it is.
"""

import json
import tempfile
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from service.api import examples as kept
from service.api.app import create_app
from service.api.contract import operations
from tests.service.api.demo_store import build_demo_store, client_token

FOLDER = Path(kept.__file__).parent
STAND_IN_BUILD = "0123456789abcdef"


def shortened(value: Any) -> Any:
    if isinstance(value, dict):
        return {
            key: STAND_IN_BUILD if key == "store_build" else "2026-06-01" if key == "as_of" else shortened(each)
            for key, each in value.items()
        }
    if isinstance(value, list):
        return [shortened(each) for each in value[:2]]
    return value


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "reedgate.db"
        build_demo_store(store)
        app = create_app(store)
        with TestClient(app) as client:
            for path, method, operation in operations(app.openapi()):
                for example in kept.examples().get(operation["operationId"], ())[:1]:
                    headers = example.headers | ({"Authorization": client_token(app)} if example.upload else {})
                    body = Path(example.upload).read_bytes() if example.upload else example.body
                    response = client.request(method, example.address(path), content=body, headers=headers)
                    response.raise_for_status()
                    if "json" in response.headers["content-type"]:
                        text = json.dumps(shortened(response.json()), indent=1, ensure_ascii=False) + "\n"
                        (FOLDER / f"{example.operation_id}.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
