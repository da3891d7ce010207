"""What the service is measured against: FastAPI routes that return a constant of the size of an
answer.
"""

import json
import os
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Response

BODY = Path(os.environ["CONSTANT_BODY"]).read_bytes()
VALUE: dict[str, Any] = json.loads(BODY)

app = FastAPI()


@app.get("/constant")
async def constant() -> Response:
    """The bytes, ready made: nothing is worked out or written out."""
    return Response(BODY, media_type="application/json")


@app.get("/constant-value")
async def constant_value() -> dict[str, Any]:
    """The value, which FastAPI writes out as it does the answer of any route."""
    return VALUE
