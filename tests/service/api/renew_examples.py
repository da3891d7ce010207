"""Writes the answers of the contract's examples anew, after the shape of an answer has changed.

    python -m tests.service.api.renew_examples

Lists in them are cut to two members, and the build id is a stand-in, so that a change of the
reference data leaves the contract as it is.
"""

import json
import re
import tempfile
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from service.api import examples as kept
from service.api.app import create_app
from service.api.contract import operations
from tests.service.api.demo_store import build_demo_store, send

FOLDER = Path(kept.__file__).parent
STAND_INS = {"store_build": "0123456789abcdef", "as_of": "2026-06-01", "job_id": "f3b1c2"}


def shortened(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: STAND_INS.get(key) or shortened(member) for key, member in value.items()}
    if isinstance(value, str) and "/v1/jobs/" in value:
        return re.sub(r"/v1/jobs/[^/]+", f"/v1/jobs/{STAND_INS['job_id']}", value)
    if isinstance(value, list):
        return [shortened(member) for member in value[:2]]
    return value


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "reedgate.db"
        build_demo_store(store)
        app = create_app(store)
        with TestClient(app) as client:
            for path, method, operation in operations(app.openapi()):
                for example in kept.examples().get(operation["operationId"], ())[:1]:
                    response = send(client, example, method, path)
                    response.raise_for_status()
                    if "json" in response.headers["content-type"]:
                        text = (
                            json.dumps(shortened(response.json()), indent=1, ensure_ascii=False)
                            + "\n"
                        )
                        (FOLDER / f"{example.operation_id}.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
