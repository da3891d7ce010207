"""Adding to the store over HTTP: off until a token with the scope ``load`` exists.

The service itself never writes the store. A load runs as a process of its own, the same as
``reedgate load`` on the command line; when it is done, the service takes up the new build as it
would any other.
"""

import asyncio
import logging
import os
import re
import sys
import tempfile
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, Field

from service.api import problems
from service.api.asked import AskedRoute
from service.api.parameters import store_handle
from service.errors import BadRequest, StoreError, TookTooLong
from service.settings import Settings

router = APIRouter(route_class=AskedRoute, prefix="/v1/loads", tags=["loads"])

Kind = Literal[
    "regulations", "taxonomy", "occurrences", "waters", "watersheds", "boundaries", "zones"
]

_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    },
    "security": [{"token": []}],
}
_WRONG_USAGE = 2
_log = logging.getLogger(__name__)


class Loaded(BaseModel):
    """What a load did."""

    store_build: Annotated[str, Field(description="the build that answers from now on")]
    kind: Kind
    file: str
    report: Annotated[
        tuple[str, ...], Field(description="what was read, kept and set apart, line by line")
    ]


@router.post(
    "/{kind}",
    operation_id="load_file",
    summary="Add a file of open data or law to the store, whole or not at all",
    openapi_extra=_BODY,
    response_model=Loaded,
)
async def load_file(
    request: Request,
    kind: Kind,
    file: Annotated[
        str,
        Query(
            pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,99}$",
            description="name of the file; its ending says what it is",
            examples=["us-oh-invented.toml"],
        ),
    ],
) -> Loaded | Response:
    turn: asyncio.Lock = request.app.state.load_turn
    if turn.locked():
        return problems.response_of(problems.LOAD_UNDER_WAY, {"Retry-After": "60"})
    async with turn:
        with tempfile.TemporaryDirectory(prefix="reedgate-load-") as folder:
            path = Path(folder) / file
            with path.open("wb") as stream:
                async for piece in request.stream():
                    stream.write(piece)
            if not path.stat().st_size:
                raise BadRequest("The body is empty.", next_step="Send the file as the body.")
            report = await _load(kind, path, store_handle(request).path, request.app.state.config)
    library = await asyncio.to_thread(store_handle(request).current)
    return Loaded(store_build=library.build_id, kind=kind, file=file, report=report)


async def _load(kind: Kind, path: Path, store: Path, config: Settings) -> tuple[str, ...]:
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-c",
        "from service.cli.main import main; main()",
        *("load", kind, str(path), "--store", str(store)),
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
        env={**os.environ, "NO_COLOR": "1", "COLUMNS": "200"},
    )
    try:
        out, err = await asyncio.wait_for(process.communicate(), config.max_load_seconds)
    except TimeoutError as error:
        raise TookTooLong(
            "The load took longer than its time limit.", next_step="Load it on the command line."
        ) from error
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    told = _without_paths(err.decode("utf-8", "replace"), path, store)
    if process.returncode == 0:
        return _without_paths(out.decode("utf-8", "replace"), path, store)
    _log.warning("a load failed", extra={"kind": kind, "exit": process.returncode})
    if process.returncode == 1 and told and not told[0].startswith("Traceback"):
        if any(_FULL.search(line) for line in told):
            raise StoreError(" ".join(told), next_step="The store is as it was.")
        raise BadRequest(" ".join(told), next_step="The store is as it was.")
    if process.returncode == _WRONG_USAGE and told:
        raise BadRequest(told[-1], next_step="The store is as it was.")
    raise StoreError(
        "The load failed; the operator's log says why.", next_step="The store is as it was."
    )


_FULL = re.compile(r"no space|disk", re.IGNORECASE)


def _without_paths(text: str, path: Path, store: Path) -> tuple[str, ...]:
    plain = (
        text.replace(str(path), path.name)
        .replace(str(path.parent), "")
        .replace(str(store), store.name)
        .replace(f"{store.parent}/", "")
    )
    return tuple(line.rstrip() for line in plain.splitlines() if line.strip())
